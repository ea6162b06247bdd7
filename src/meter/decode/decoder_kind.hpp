// What a decoder kind is to the rest of the room: a name, the settings it understands, and how to make one.
// A new decoder is one file that defines `DecoderKind NAME_kind()`, and one line in decoder_kinds.cpp.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/meter/decoder.hpp"

namespace switchwright {

/// A single value under [decoder].
struct OptionSpec {
  std::string name;
  bool required = false;
  std::string expected;  ///< in plain words, for "expected X, saw Y"
  bool (*valid)(std::string_view value) = nullptr;
};

/// A table under [decoder]: code = "meaning".
struct TableSpec {
  std::string name;
  bool required = false;
  std::string expected_key;
  bool (*valid_key)(std::string_view key) = nullptr;
  std::string expected_value;
  bool (*valid_value)(std::string_view value) = nullptr;
  std::vector<std::string> words;  ///< when the values are words of a list: for near names
};

/// One mistake in the settings. `table` empty: an option. `key` empty: the table or option itself is missing.
struct SettingProblem {
  std::string table;
  std::string key;
  std::string text;  ///< "expected X, saw Y"
};

struct DecoderKind {
  std::string name;
  std::vector<OptionSpec> options;
  std::vector<TableSpec> tables;
  std::unique_ptr<Decoder> (*make)(const MeterDefinition& definition) = nullptr;
  /// What cannot be seen in one entry alone (a range for a function that no entry names); may be empty.
  std::vector<SettingProblem> (*cross_check)(const DecoderSettings& settings) = nullptr;
};

/// Every kind there is, sorted by name.
const std::vector<DecoderKind>& all_decoder_kinds();
/// nullptr when there is none of that name.
const DecoderKind* decoder_kind(std::string_view name);
/// Every mistake in the settings of a known kind.
std::vector<SettingProblem> check_settings(const DecoderKind& kind, const DecoderSettings& settings);

/// The value of an option, or `otherwise` when it is not there.
std::string option_or(const DecoderSettings& settings, const std::string& name, const std::string& otherwise);
/// An option that check_settings has found to be a whole number, or `otherwise` when it is not there.
int whole_option_or(const DecoderSettings& settings, const std::string& name, int otherwise);
/// The table, empty when it is not there.
const std::map<std::string, std::string>& table_or_empty(const DecoderSettings& settings, std::string_view name);

/// Digits only, at most six of them, and not all 0.
bool is_count(std::string_view text);

}  // namespace switchwright
