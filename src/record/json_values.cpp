// Readings and indications as JSON.
#include <chrono>
#include <limits>

#include "record/json_parts.hpp"

namespace switchwright {

namespace json_parts {

std::string utf8(const std::string& text) {
  try {
    (void)json(text).dump();
    return text;
  } catch (const json::type_error&) {
    return json::parse(json(text).dump(-1, ' ', false, json::error_handler_t::replace)).get<std::string>();
  }
}

std::string hex(const std::string& bytes) {
  constexpr char digits[] = "0123456789abcdef";
  std::string text;
  for (const char c : bytes) {
    text += digits[static_cast<unsigned char>(c) >> 4U];
    text += digits[static_cast<unsigned char>(c) & 0xFU];
  }
  return text;
}

std::string bytes_of(const std::string& text) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < text.size(); i += 2)
    bytes += static_cast<char>(std::stoi(text.substr(i, 2), nullptr, 16));
  return bytes;
}

void put(json& object, const char* key, const std::string& text) {
  if (!text.empty()) object[key] = utf8(text);
}
void put(json& object, const char* key, double number) {
  if (std::isfinite(number)) object[key] = number;
}
void put(json& object, const char* key, const std::optional<double>& number) {
  if (number) put(object, key, *number);
}

std::string text_at(const json& object, const char* key) { return object.value(key, std::string{}); }
int integer_at(const json& object, const char* key, std::optional<int> otherwise) {
  const auto found = object.find(key);
  if (found == object.end() && otherwise) return *otherwise;
  const json& value = object.at(key);
  const double number = value.is_number() ? value.get<double>() : 0.5;
  if (number != std::floor(number) || std::abs(number) > std::numeric_limits<int>::max())
    throw std::invalid_argument("\"" + std::string(key) + "\" is no whole number that can be");
  return static_cast<int>(number);
}
double number_at(const json& object, const char* key, double otherwise) { return object.value(key, otherwise); }
std::optional<double> maybe_number_at(const json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end()) return std::nullopt;
  return found->get<double>();
}

namespace {

constexpr Words<ReadingState, 3> states{{{ReadingState::finite, "finite"},
                                         {ReadingState::over_range, "over-range"},
                                         {ReadingState::not_a_number, "not-a-number"}}};

double seconds_from_start(Monotonic at, const TimeBase& base) {
  const auto ns = std::chrono::duration_cast<std::chrono::nanoseconds>(at - base.zero).count();
  return static_cast<double>(ns) / 1e9;
}

Monotonic monotonic_at(double seconds) {
  return Monotonic{std::chrono::duration_cast<Monotonic::duration>(from_seconds(seconds))};
}

ReadingFlags flags_from(const json& object) {
  ReadingFlags flags;
  for (const auto& flag : object.value("flags", json::array())) {
    const auto name = flag.get<std::string>();
    flags.hold |= name == "hold";
    flags.relative |= name == "relative";
    flags.low_battery |= name == "low-battery";
    flags.autorange |= name == "autorange";
    flags.min_max |= name == "min-max";
  }
  return flags;
}

}  // namespace

}  // namespace json_parts

std::string word_for(ReadingState state) { return json_parts::word(json_parts::states, state); }

std::vector<std::string> words_for(const ReadingFlags& flags) {
  std::vector<std::string> list;
  if (flags.hold) list.push_back("hold");
  if (flags.relative) list.push_back("relative");
  if (flags.low_battery) list.push_back("low-battery");
  if (flags.autorange) list.push_back("autorange");
  if (flags.min_max) list.push_back("min-max");
  return list;
}

namespace json_parts {

namespace {

/// What a reading and an indication have in common.
template <typename Measured>
json value_json(const Measured& measured) {
  json object;
  object["quantity"] = std::string(name_of(measured.quantity));
  object["unit"] = std::string(unit_of(measured.quantity));
  object["state"] = word(states, measured.state);
  if (measured.state == ReadingState::finite) put(object, "value", measured.value);
  if (measured.resolution > 0.0) put(object, "resolution", measured.resolution);
  put(object, "beyond", measured.beyond);
  if (const auto flags = words_for(measured.flags); !flags.empty()) object["flags"] = flags;
  return object;
}

template <typename Measured>
void value_from(const json& object, Measured& measured) {
  const auto quantity = quantity_named(text_at(object, "quantity"));
  if (!quantity)
    throw std::invalid_argument("\"" + text_at(object, "quantity") + "\" is no quantity this version knows");
  measured.quantity = *quantity;
  measured.state = value_of(states, text_at(object, "state"));
  measured.value = number_at(object, "value");
  measured.resolution = number_at(object, "resolution");
  measured.beyond = maybe_number_at(object, "beyond");
  measured.flags = flags_from(object);
}

}  // namespace

json reading_json(const ReadingRow& row, const TimeBase& base) {
  json object = value_json(row.reading);
  object["step"] = row.step;
  object["at"] = iso8601(row.reading.at.wall);
  object["at_s"] = seconds_from_start(row.reading.at.monotonic, base);
  put(object, "raw", hex(row.reading.raw));
  return object;
}

ReadingRow reading_from(const json& object) {
  ReadingRow row;
  row.step = integer_at(object, "step");
  value_from(object, row.reading);
  row.reading.at = {monotonic_at(object.at("at_s").get<double>()), parse_iso8601(text_at(object, "at"))};
  row.reading.raw = bytes_of(text_at(object, "raw"));
  return row;
}

json indication_json(const Indication& indication, const TimeBase* base) {
  json object = value_json(indication);
  object["readings"] = indication.readings;
  if (indication.spread > 0.0) put(object, "spread", indication.spread);
  object["from"] = iso8601(indication.from.wall);
  object["to"] = iso8601(indication.to.wall);
  if (base != nullptr) {
    object["from_s"] = seconds_from_start(indication.from.monotonic, *base);
    object["to_s"] = seconds_from_start(indication.to.monotonic, *base);
  }
  return object;
}

Indication indication_from(const json& object, Wall started) {
  Indication indication;
  value_from(object, indication);
  indication.readings = integer_at(object, "readings", 0);
  indication.spread = number_at(object, "spread");
  indication.from.wall = parse_iso8601(text_at(object, "from"));
  indication.to.wall = parse_iso8601(text_at(object, "to"));
  const auto since = [&](Wall wall) { return std::chrono::duration<double>(wall - started).count(); };
  indication.from.monotonic = monotonic_at(number_at(object, "from_s", since(indication.from.wall)));
  indication.to.monotonic = monotonic_at(number_at(object, "to_s", since(indication.to.wall)));
  return indication;
}

}  // namespace json_parts

}  // namespace switchwright
