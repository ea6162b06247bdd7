// Shared between the .cpp files that turn a record into JSON and back: absent instead of empty, words on
// disk, readings and indications.
#pragma once

#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>

#include "switchwright/record/record_json.hpp"

namespace switchwright::json_parts {

using nlohmann::json;

/// A word on disk for each value. Persistent: add, never change.
template <typename Enum, std::size_t N>
using Words = std::array<std::pair<Enum, const char*>, N>;

template <typename Enum, std::size_t N>
std::string word(const Words<Enum, N>& words, Enum value) {
  for (const auto& [known, text] : words)
    if (known == value) return text;
  throw std::invalid_argument("a value has no word on disk");
}

template <typename Enum, std::size_t N>
Enum value_of(const Words<Enum, N>& words, const std::string& text) {
  for (const auto& [known, spelled] : words)
    if (text == spelled) return known;
  throw std::invalid_argument("\"" + text + "\" is not a word this version knows");
}

/// JSON is UTF-8; a byte that is not becomes U+FFFD, so that what is stored and what is hashed stay the same.
std::string utf8(const std::string& text);
/// Bytes as lower-case hexadecimal, and back.
std::string hex(const std::string& bytes);
std::string bytes_of(const std::string& hex);

/// Nothing is put for an empty text or a number that JSON cannot hold: what is not known is absent.
void put(json& object, const char* key, const std::string& text);
void put(json& object, const char* key, double number);
void put(json& object, const char* key, const std::optional<double>& number);
template <typename Rows, typename Function>
void put_rows(json& object, const char* key, const Rows& rows, Function&& one) {
  if (rows.empty()) return;
  json list = json::array();
  for (const auto& row : rows) list.push_back(one(row));
  object[key] = std::move(list);
}

std::string text_at(const json& object, const char* key);
double number_at(const json& object, const char* key, double otherwise = 0.0);
std::optional<double> maybe_number_at(const json& object, const char* key);

json reading_json(const ReadingRow& row, const TimeBase& base);
ReadingRow reading_from(const json& object);

/// @param base nullptr inside a finding: a finding may come from an earlier sitting, whose monotonic clock is
/// gone, so it carries wall times only.
json indication_json(const Indication& indication, const TimeBase* base);
Indication indication_from(const json& object, Wall started);

/// Without the time when it was entered.
json stated_result_json(const StatedResult& result);
StatedResult stated_result_from(const json& object);

json verdict_json(const Verdict& verdict);
Verdict verdict_from(const json& object, Wall started);

}  // namespace switchwright::json_parts
