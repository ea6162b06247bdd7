#include "profile/parts.hpp"

#include <algorithm>

namespace switchwright::profile_parts {

std::vector<Resistor> resistors(const Profile& profile, const std::string& position, const PartOhms& ohms) {
  std::vector<Resistor> all;
  for (const Contact& contact : profile.contacts)
    all.push_back({contact.id, contact.between.first(), contact.between.second(),
                   contact.conducts_at(position) ? ohms.closed_contact : ohms.open_contact});
  for (const Element& element : profile.elements)
    all.push_back({element.id, element.between.first(), element.between.second(),
                   element.strikes_v ? ohms.open_contact : ohms.element(element)});
  return all;
}

std::vector<Resistor> closed_contacts(const Profile& profile, const std::string& position) {
  std::vector<Resistor> all;
  for (const Contact& contact : profile.contacts)
    if (contact.conducts_at(position))
      all.push_back({contact.id, contact.between.first(), contact.between.second(), 0.0});
  return all;
}

std::vector<std::string> powered_network_nodes(const Profile& profile) {
  std::vector<std::string> nodes = profile.network_nodes();
  if (profile.powered)
    for (const std::string& point : profile.powered->outside)
      if (std::find(nodes.begin(), nodes.end(), point) == nodes.end())
        nodes.push_back(point);  // [[wired]] names it too
  return nodes;
}

const NotChecked* left_out(const Profile& profile, const std::string& position, const Pair& pair) {
  for (const NotChecked& item : profile.not_checked)
    if (item.pair == pair && (item.at.empty() || std::find(item.at.begin(), item.at.end(), position) != item.at.end()))
      return &item;
  return nullptr;
}

}  // namespace switchwright::profile_parts
