#include "switchwright/profile/profile.hpp"

#include <algorithm>

namespace switchwright {

std::string to_string(Severity severity) {
  switch (severity) {
    case Severity::critical: return "critical";
    case Severity::major: return "major";
    case Severity::minor: return "minor";
  }
  return {};
}

std::string to_string(StatedQuantity quantity) {
  switch (quantity) {
    case StatedQuantity::insulation_resistance: return "insulation-resistance";
    case StatedQuantity::withstand_current: return "withstand-current";
    case StatedQuantity::earth_bond: return "earth-bond";
    case StatedQuantity::temperature_rise: return "temperature-rise";
    case StatedQuantity::tab_pull: return "tab-pull";
  }
  return {};
}

std::string unit_of(StatedQuantity quantity) {
  switch (quantity) {
    case StatedQuantity::insulation_resistance:
    case StatedQuantity::earth_bond: return "ohm";
    case StatedQuantity::withstand_current: return "A";
    case StatedQuantity::temperature_rise: return "K";
    case StatedQuantity::tab_pull: return "N";
  }
  return {};
}

bool Contact::cycles(const std::string& position) const {
  return std::find(cycles_at.begin(), cycles_at.end(), position) != cycles_at.end();
}

bool Contact::conducts_at(const std::string& position) const {
  return cycles(position) || std::find(closed_at.begin(), closed_at.end(), position) != closed_at.end();
}

std::vector<std::string> Profile::nodes() const {
  std::vector<std::string> all = terminals;
  all.insert(all.end(), exposed_metal.begin(), exposed_metal.end());
  return all;
}

std::vector<std::string> Profile::network_nodes() const {
  std::vector<std::string> all = nodes();
  all.insert(all.end(), internal.begin(), internal.end());
  return all;
}

std::vector<Pair> Profile::pairs() const {
  const std::vector<std::string> all = nodes();
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i < all.size(); ++i)
    for (std::size_t j = i + 1; j < all.size(); ++j) pairs.emplace_back(all[i], all[j]);
  return pairs;
}

bool Profile::is_exposed_metal(const std::string& node) const {
  return std::find(exposed_metal.begin(), exposed_metal.end(), node) != exposed_metal.end();
}

const Position* Profile::position(const std::string& id_wanted) const {
  const auto found = std::find_if(positions.begin(), positions.end(),
                                  [&](const Position& position) { return position.id == id_wanted; });
  return found == positions.end() ? nullptr : &*found;
}

}  // namespace switchwright
