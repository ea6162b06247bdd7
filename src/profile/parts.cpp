#include "profile/parts.hpp"

namespace switchwright::profile_parts {

std::vector<Resistor> resistors(const Profile& profile, const std::string& position, const PartOhms& ohms) {
  std::vector<Resistor> all;
  for (const Contact& contact : profile.contacts)
    all.push_back({contact.id, contact.between.first(), contact.between.second(),
                   contact.conducts_at(position) ? ohms.closed_contact : ohms.open_contact});
  for (const Element& element : profile.elements)
    all.push_back({element.id, element.between.first(), element.between.second(), ohms.element(element)});
  return all;
}

}  // namespace switchwright::profile_parts
