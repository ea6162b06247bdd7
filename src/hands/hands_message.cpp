#include "switchwright/hands/hands_message.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <vector>

#include "switchwright/core/text.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright {

namespace {

using nlohmann::json;

struct Refusal : std::runtime_error {
  using std::runtime_error::runtime_error;
};

std::string with_hint(std::string what, const std::string& name, const std::vector<std::string>& known) {
  const std::string hint = suggestion(name, known);
  return hint.empty() ? what : what + " (" + hint + ")";
}

std::string text_of(const json& object, const char* key) {
  const json& value = object.at(key);
  if (!value.is_string()) throw Refusal(std::string{"\""} + key + "\" must be a string");
  return value.get<std::string>();
}

Probes probes_of(const std::string& name) {
  if (name == "off") return Probes::off;
  if (name == "shorted") return Probes::shorted;
  if (name == "pair") return Probes::on_pair;
  if (name == "known-source") return Probes::on_known_source;
  throw Refusal(with_hint("probes cannot be \"" + name + "\"", name, {"off", "shorted", "pair", "known-source"}));
}

Pair pair_of(const json& value, const Profile& profile) {
  if (!value.is_array() || value.size() != 2 || !value[0].is_string() || !value[1].is_string())
    throw Refusal("\"pair\" must be two terminal names");
  const auto known = bench_points(profile);
  for (const json& end : value) {
    const auto name = end.get<std::string>();
    if (std::find(known.begin(), known.end(), name) == known.end())
      throw Refusal(with_hint("no terminal is called \"" + name + "\"", name, known));
  }
  const auto first = value[0].get<std::string>();
  const auto second = value[1].get<std::string>();
  if (first == second) throw Refusal("both probes cannot be on \"" + first + "\"; use \"probes\":\"shorted\"");
  return {first, second};
}

std::string position_of(const std::string& name, const Profile& profile) {
  if (profile.position(name) != nullptr) return name;
  std::vector<std::string> known;
  for (const Position& position : profile.positions) known.push_back(position.id);
  throw Refusal(with_hint("no knob position is called \"" + name + "\"", name, known));
}

Quantity dial_of(const std::string& name) {
  if (const auto quantity = quantity_named(name)) return *quantity;
  throw Refusal("no dial position is called \"" + name + "\"");
}

bool power_of(const std::string& name) {
  if (name == "on") return true;
  if (name == "off") return false;
  throw Refusal("power is \"on\" or \"off\", not \"" + name + "\"");
}

CurrentSwitch current_of(const std::string& name) {
  if (const auto current = current_switch_named(name)) return *current;
  throw Refusal(with_hint("current is \"on\", \"off\", \"reversed\" or \"one-clip\", not \"" + name + "\"", name,
                          {"on", "off", "reversed", "one-clip"}));
}

HandsMessage message_of(const json& object, const Profile& profile) {
  static const std::vector<std::string> known{"id",   "meter", "probes",  "pair", "position",
                                              "dial", "power", "current", "amps", "unit"};
  for (const auto& [key, value] : object.items())
    if (std::find(known.begin(), known.end(), key) == known.end())
      throw Refusal(with_hint("unknown key \"" + key + "\"", key, known));
  HandsMessage message;
  if (object.contains("probes")) message.probes = probes_of(text_of(object, "probes"));
  if (object.contains("pair")) message.pair = pair_of(object.at("pair"), profile);
  if (object.contains("position")) message.position = position_of(text_of(object, "position"), profile);
  if (object.contains("dial")) message.dial = dial_of(text_of(object, "dial"));
  if (object.contains("meter")) message.meter = text_of(object, "meter");
  if (object.contains("power")) message.power = power_of(text_of(object, "power"));
  if (object.contains("current")) message.current = current_of(text_of(object, "current"));
  if (object.contains("unit")) {
    if (!object.at("unit").is_number_integer()) throw Refusal("\"unit\" must be a whole number");
    message.unit = object.at("unit").get<int>();
  }
  if (object.contains("amps")) {
    if (!object.at("amps").is_number() || !(object.at("amps").get<double>() >= 0.0))
      throw Refusal("\"amps\" must be a number from 0");
    message.amps = object.at("amps").get<double>();
  }
  return message;
}

std::string quoted(const std::string& text) { return json(text).dump(-1, ' ', true, json::error_handler_t::replace); }

}  // namespace

HandsRequest read_hands_request(const std::string& line, const Profile& profile) {
  HandsRequest request;
  const json object = json::parse(line, nullptr, false);
  if (object.is_discarded()) {
    request.reason = "the line is not JSON";
    return request;
  }
  if (!object.is_object()) {
    request.reason = "the line is not a JSON object";
    return request;
  }
  if (object.contains("id")) request.id = object.at("id").dump(-1, ' ', true, json::error_handler_t::replace);
  try {
    request.message = message_of(object, profile);
  } catch (const Refusal& refusal) {
    request.reason = refusal.what();
  }
  return request;
}

std::string done_line(const std::string& id, std::optional<double> supply_shows_a, const std::string& label) {
  const std::string shows = supply_shows_a ? ",\"supply_shows_a\":" + json(*supply_shows_a).dump() : "";
  const std::string labelled = label.empty() ? "" : ",\"label\":" + quoted(label);
  return "{\"id\":" + id + ",\"done\":true" + shows + labelled + "}";
}

std::string refused_line(const std::string& id, const std::string& reason) {
  return "{\"id\":" + id + ",\"done\":false,\"reason\":" + quoted(reason) + "}";
}

std::string_view name_of(CurrentSwitch current) {
  switch (current) {
    case CurrentSwitch::off: return "off";
    case CurrentSwitch::on: return "on";
    case CurrentSwitch::reversed: return "reversed";
    case CurrentSwitch::one_clip: return "one-clip";
  }
  return "off";
}

std::optional<CurrentSwitch> current_switch_named(std::string_view name) {
  for (const CurrentSwitch current :
       {CurrentSwitch::off, CurrentSwitch::on, CurrentSwitch::reversed, CurrentSwitch::one_clip})
    if (name == name_of(current)) return current;
  return std::nullopt;
}

}  // namespace switchwright
