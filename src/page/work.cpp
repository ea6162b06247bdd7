#include "page/work.hpp"

#include "switchwright/judge/scope.hpp"

namespace switchwright::page {

namespace {

constexpr std::size_t longest_text = 400;

}  // namespace

std::string dumped(const Json& json) { return json.dump(-1, ' ', false, Json::error_handler_t::replace); }

std::string text_of(const Json& command, const char* key) {
  const auto found = command.find(key);
  if (found == command.end() || !found->is_string()) return {};
  std::string text = found->get<std::string>();
  if (text.size() > longest_text) throw Refusal("That text is longer than anything that belongs here.");
  const auto first = text.find_first_not_of(" \t\r\n");
  return first == std::string::npos ? std::string{} : text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

std::optional<long> number_of(const Json& command, const char* key) {
  const auto found = command.find(key);
  if (found == command.end() || !found->is_number_integer()) return std::nullopt;
  return found->get<long>();
}

void put_purpose(const Json& command, RecordHeader& header) {
  if (const std::string require = text_of(command, "require"); !require.empty())
    header.require = parse_scope_parts(require);
  const auto claim = command.find("claim");
  if (claim == command.end() || !claim->is_object()) return;
  header.claim = {text_of(*claim, "order"),     text_of(*claim, "appliance"), text_of(*claim, "appliance_serial"),
                  text_of(*claim, "date_code"), text_of(*claim, "supplier"),  text_of(*claim, "lot"),
                  text_of(*claim, "remark")};
}

Json part_json(const Profile& profile) {
  Json json;
  json["profile"] = profile.id;
  json["title"] = profile.title;
  json["values"] = profile.values;
  json["knob"] = profile.knob;
  json["terminals"] = profile.terminals;
  json["metal"] = profile.exposed_metal;
  json["positions"] = Json::array();
  for (const Position& position : profile.positions)
    json["positions"].push_back({{"id", position.id},
                                 {"angle", position.angle_deg},
                                 {"label", position.label.empty() ? position.id : position.label},
                                 {"turned", position.go.empty()}});
  if (profile.powered) {
    json["outside"] = profile.powered->outside;
    json["earth"] = profile.powered->earth_point;
    json["supply_v"] = profile.powered->voltage_v;
  }
  return json;
}

}  // namespace switchwright::page
