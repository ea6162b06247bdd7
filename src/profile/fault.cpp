#include "switchwright/profile/fault.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "profile/parts.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/expectation.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

enum class Target { contact, element, two_terminals, none };

struct KindRow {
  FaultKind kind;
  const char* word;
  Target target;
  const char* unit;  ///< nullptr: takes no value
};
constexpr std::array kinds{
    KindRow{FaultKind::stuck_closed, "stuck-closed", Target::contact, nullptr},
    KindRow{FaultKind::stuck_open, "stuck-open", Target::contact, nullptr},
    KindRow{FaultKind::resistive, "resistive", Target::contact, "ohm"},
    KindRow{FaultKind::open, "open", Target::element, nullptr},
    KindRow{FaultKind::shorted, "shorted", Target::element, nullptr},
    KindRow{FaultKind::drifted, "drifted", Target::element, "percent"},
    KindRow{FaultKind::swapped, "swapped", Target::two_terminals, nullptr},
    KindRow{FaultKind::clocked, "clocked", Target::none, "positions"},
};

const KindRow& row_of(FaultKind kind) {
  return *std::find_if(kinds.begin(), kinds.end(), [&](const KindRow& row) { return row.kind == kind; });
}

[[noreturn]] void refuse(const std::string& text, const std::string& what, const std::string& next) {
  throw Error(ErrorKind::usage, fmt::format("the fault \"{}\" {}", terminal_safe(text), what), {}, next);
}

std::vector<std::string> ids_of(Target target, const Profile& profile) {
  std::vector<std::string> ids;
  if (target == Target::contact)
    for (const Contact& contact : profile.contacts) ids.push_back(contact.id);
  if (target == Target::element)
    for (const Element& element : profile.elements) ids.push_back(element.id);
  if (target == Target::two_terminals) ids = profile.terminals;
  return ids;
}

void check_id(const std::string& text, const std::string& id, Target target, const Profile& profile) {
  const std::vector<std::string> known = ids_of(target, profile);
  if (std::find(known.begin(), known.end(), id) != known.end()) return;
  const char* noun = target == Target::contact   ? "contact"
                     : target == Target::element ? "element"
                                                 : "terminal";
  const std::string hint = suggestion(id, known);
  refuse(text, fmt::format("names no {} of {}: \"{}\"", noun, profile.id, terminal_safe(id)),
         hint.empty() ? fmt::format("this profile has no {}", noun) : hint);
}

double number_in(const std::string& text, const std::string& word) {
  double value = 0.0;
  const auto [end, problem] = fast_float::from_chars(word.data(), word.data() + word.size(), value);
  if (problem != std::errc{} || end != word.data() + word.size() || !std::isfinite(value))
    refuse(text, fmt::format("has no number where one is expected: \"{}\"", terminal_safe(word)),
           "write it like resistive:line=5");
  return value;
}

void check_value(const std::string& text, const Fault& fault, const Profile& profile) {
  const double value = *fault.value;
  if (fault.kind == FaultKind::resistive && !(value > 0.0))
    refuse(text, "needs a resistance above 0 ohm", "write it like resistive:line=5");
  if (fault.kind == FaultKind::drifted && !(value > -100.0))
    refuse(text, "needs a drift above -100 percent",
           "write it like drifted:heater=30; a short is shorted:heater");
  if (fault.kind == FaultKind::clocked &&
      (value != std::floor(value) || value == 0.0 || std::abs(value) >= double(profile.positions.size())))
    refuse(text,
           fmt::format("needs a whole number of positions, not 0 and less than {}", profile.positions.size()),
           "write it like clocked=1");
}

/// Whether turning on from the last position leads to the first: the gap that is left of the full circle is
/// no more than half again the largest gap between neighbours.
bool goes_round(const Profile& profile) {
  if (profile.positions.size() < 2) return false;
  double largest = 0.0;
  for (std::size_t i = 1; i < profile.positions.size(); ++i)
    largest = std::max(largest, profile.positions[i].angle_deg - profile.positions[i - 1].angle_deg);
  const double left = profile.positions.front().angle_deg + 360.0 - profile.positions.back().angle_deg;
  return left > 0.0 && left <= 1.5 * largest;
}

/// The position the part behaves as when the knob points at `position` and sits `steps` too far.
std::string clocked_position(const Profile& profile, const std::string& position, int steps) {
  const int count = static_cast<int>(profile.positions.size());
  int index = 0;
  while (profile.positions[index].id != position) ++index;
  index += steps;
  index = goes_round(profile) ? (index % count + count) % count : std::clamp(index, 0, count - 1);
  return profile.positions[index].id;
}

/// What the faults make of one contact.
struct ContactState {
  bool conducts;
  double closed_ohm;
};

ContactState contact_state(const Contact& contact, const std::string& position, const PartValues& values,
                           const std::vector<Fault>& faults) {
  ContactState state{contact.conducts_at(position), values.closed_contact_ohm};
  for (const Fault& fault : faults) {
    if (fault.id != contact.id) continue;
    if (fault.kind == FaultKind::stuck_closed) state.conducts = true;
    if (fault.kind == FaultKind::stuck_open) state.conducts = false;
    if (fault.kind == FaultKind::resistive)
      state.closed_ohm = fault.value.value_or(values.closed_contact_ohm);
  }
  return state;
}

double element_ohm(const Element& element, const std::vector<Fault>& faults) {
  double ohm = element.nominal_ohm;
  for (const Fault& fault : faults) {
    if (fault.id != element.id) continue;
    if (fault.kind == FaultKind::open) ohm = infinity;
    if (fault.kind == FaultKind::shorted) ohm = 0.0;
    if (fault.kind == FaultKind::drifted) ohm *= 1.0 + fault.value.value_or(0.0) / 100.0;
  }
  return ohm;
}

}  // namespace

std::string to_string(const Fault& fault) {
  const KindRow& row = row_of(fault.kind);
  std::string text = row.word;
  if (!fault.id.empty()) text += ":" + fault.id;
  if (!fault.other.empty()) text += "," + fault.other;
  if (fault.value) text += fmt::format("={}", *fault.value);
  return text;
}

namespace {

Fault read_fault(const std::string& text, const Profile& profile, bool value_needed) {
  const std::size_t kind_ends = text.find_first_of(":=");
  const std::string word = text.substr(0, kind_ends);
  const auto row = std::find_if(kinds.begin(), kinds.end(), [&](const KindRow& r) { return word == r.word; });
  if (row == kinds.end()) {
    std::vector<std::string> known;
    for (const KindRow& r : kinds) known.emplace_back(r.word);
    refuse(text, "is of no known kind", suggestion(word, known));
  }
  Fault fault;
  fault.kind = row->kind;
  std::string rest = kind_ends == std::string::npos ? std::string{} : text.substr(kind_ends);

  if (row->target == Target::none) {
    if (rest.empty() && !value_needed) return fault;
    if (rest.size() < 2) refuse(text, "does not say how many positions", "write it like clocked=1");
    fault.value = number_in(text, rest.substr(1));
    check_value(text, fault, profile);
    return fault;
  }
  const char* example = row->target == Target::two_terminals ? "swapped:L1,L2" : "stuck-closed:cycling";
  if (rest.size() < 2 || rest.front() != ':')
    refuse(text, "does not say of what", fmt::format("write it like {}", example));
  const std::size_t equals = rest.find('=');
  fault.id = rest.substr(1, equals == std::string::npos ? equals : equals - 1);
  if (row->unit && (value_needed || equals != std::string::npos)) {
    if (equals == std::string::npos)
      refuse(text, fmt::format("does not say how much ({})", row->unit),
             fmt::format("write it like {}=5", text));
    fault.value = number_in(text, rest.substr(equals + 1));
  } else if (equals != std::string::npos) {
    refuse(text, "takes no value", fmt::format("leave out \"{}\"", terminal_safe(rest.substr(equals))));
  }
  if (row->target == Target::two_terminals) {
    const std::size_t comma = fault.id.find(',');
    if (comma == std::string::npos) refuse(text, "names one terminal of two", "write it like swapped:L1,L2");
    fault.other = fault.id.substr(comma + 1);
    fault.id.resize(comma);
    check_id(text, fault.other, row->target, profile);
    if (fault.id == fault.other) refuse(text, "names the same terminal twice", "write it like swapped:L1,L2");
  }
  check_id(text, fault.id, row->target, profile);
  if (fault.value) check_value(text, fault, profile);
  return fault;
}

}  // namespace

Fault parse_fault(const std::string& text, const Profile& profile) {
  return read_fault(text, profile, true);
}
Fault parse_fault_pattern(const std::string& text, const Profile& profile) {
  return read_fault(text, profile, false);
}

const Consequence* consequence_of(const Profile& profile, const Fault& fault) {
  Fault any_value = fault;
  any_value.value.reset();
  for (const std::string& wanted : {to_string(fault), to_string(any_value)})
    for (const Consequence& consequence : profile.consequences)
      if (consequence.fault == wanted) return &consequence;
  return nullptr;
}

std::vector<Resistor> profile_parts::faulted_resistors(const Profile& profile, const std::string& position,
                                                       const PartValues& values,
                                                       const std::vector<Fault>& faults,
                                                       const std::vector<std::string>& opened) {
  if (!profile.position(position))
    throw std::out_of_range("the profile has no position \"" + position + "\"");
  std::string behaves_as = position;
  for (const Fault& fault : faults)
    if (fault.kind == FaultKind::clocked)
      behaves_as = clocked_position(profile, behaves_as, static_cast<int>(fault.value.value_or(0.0)));
  const auto seen_at = [&](std::string node) {  // under which name the probes find a node
    for (const Fault& fault : faults) {
      if (fault.kind != FaultKind::swapped) continue;
      if (node == fault.id)
        node = fault.other;
      else if (node == fault.other)
        node = fault.id;
    }
    return node;
  };
  std::vector<Resistor> resistors;
  for (const Contact& contact : profile.contacts) {
    ContactState state = contact_state(contact, behaves_as, values, faults);
    const bool welded = std::any_of(faults.begin(), faults.end(), [&](const Fault& fault) {
      return fault.kind == FaultKind::stuck_closed && fault.id == contact.id;
    });
    if (!welded && contact.cycles(behaves_as) &&
        std::find(opened.begin(), opened.end(), contact.id) != opened.end())
      state.conducts = false;
    const double open_ohm = values.open_contact_ohm >= 1e300 ? infinity : values.open_contact_ohm;
    resistors.push_back({contact.id, seen_at(contact.between.first()), seen_at(contact.between.second()),
                         state.conducts ? state.closed_ohm : open_ohm});
  }
  for (const Element& element : profile.elements)
    resistors.push_back({element.id, seen_at(element.between.first()), seen_at(element.between.second()),
                         element_ohm(element, faults)});
  return resistors;
}

Network network_of(const Profile& profile, const std::string& position, const PartValues& values,
                   const std::vector<Fault>& faults) {
  return Network(profile.network_nodes(),
                 profile_parts::faulted_resistors(profile, position, values, faults));
}

}  // namespace switchwright
