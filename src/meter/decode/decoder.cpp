#include "switchwright/meter/decoder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "meter/decode/decoder_kind.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

std::string in_quotes(std::string_view text) { return fmt::format("\"{}\"", terminal_safe(text)); }

std::string with_hint(std::string text, const std::string& hint) {
  return hint.empty() ? text : std::move(text) + "; " + hint;
}

template <typename Specs>
std::vector<std::string> names_of(const Specs& specs) {
  std::vector<std::string> names;
  for (const auto& spec : specs) names.push_back(spec.name);
  return names;
}

template <typename Specs>
auto spec_named(const Specs& specs, std::string_view name) {
  return std::find_if(specs.begin(), specs.end(), [&](const auto& spec) { return spec.name == name; });
}

void check_table(const TableSpec& spec, const std::map<std::string, std::string>& table,
                 std::vector<SettingProblem>& problems) {
  if (table.empty())
    problems.push_back({spec.name, "", "expected at least one entry in [decoder." + spec.name + "], saw none"});
  for (const auto& [key, value] : table) {
    if (spec.valid_key && !spec.valid_key(key))
      problems.push_back({spec.name, key, "expected " + spec.expected_key + " as the key, saw " + in_quotes(key)});
    if (spec.valid_value && !spec.valid_value(value))
      problems.push_back({spec.name, key,
                          with_hint("expected " + spec.expected_value + ", saw " + in_quotes(value),
                                    spec.words.empty() ? "" : suggestion(value, spec.words))});
  }
}

}  // namespace

void FrameCounts::reject_line(const std::string& reason, std::string_view line) {
  constexpr std::size_t enough_to_recognise = 60;
  ++rejected[reason];
  skipped_bytes += line.size();
  while (!line.empty() && (line.back() == '\n' || line.back() == '\r')) line.remove_suffix(1);
  if (!line.empty()) examples.try_emplace(reason, line.substr(0, enough_to_recognise));
}

std::uint64_t FrameCounts::rejected_total() const {
  std::uint64_t total = 0;
  for (const auto& [reason, count] : rejected) total += count;
  return total;
}

std::vector<SettingProblem> check_settings(const DecoderKind& kind, const DecoderSettings& settings) {
  std::vector<SettingProblem> problems;
  for (const OptionSpec& spec : kind.options) {
    const auto found = settings.options.find(spec.name);
    if (found == settings.options.end()) {
      if (spec.required)
        problems.push_back({"", "", "expected " + spec.name + " = " + spec.expected + " under [decoder], saw none"});
    } else if (spec.valid && !spec.valid(found->second)) {
      problems.push_back({"", spec.name, "expected " + spec.expected + ", saw " + in_quotes(found->second)});
    }
  }
  for (const TableSpec& spec : kind.tables) {
    const auto found = settings.tables.find(spec.name);
    if (found != settings.tables.end())
      check_table(spec, found->second, problems);
    else if (spec.required)
      problems.push_back(
          {spec.name, "", "expected the table [decoder." + spec.name + "] that " + kind.name + " needs, saw none"});
  }
  std::vector<std::string> known = names_of(kind.options);
  for (const std::string& name : names_of(kind.tables)) known.push_back(name);
  for (const auto& [name, value] : settings.options)
    if (spec_named(kind.options, name) == kind.options.end())
      problems.push_back({"", name,
                          with_hint("expected an option that " + kind.name + " knows, saw " + in_quotes(name),
                                    suggestion(name, known))});
  for (const auto& [name, table] : settings.tables)
    if (spec_named(kind.tables, name) == kind.tables.end())
      problems.push_back({name, "",
                          with_hint("expected a table that " + kind.name + " knows, saw " + in_quotes(name),
                                    suggestion(name, known))});
  if (problems.empty() && kind.cross_check) problems = kind.cross_check(settings);
  return problems;
}

const DecoderKind* decoder_kind(std::string_view name) {
  const auto& kinds = all_decoder_kinds();
  const auto found = spec_named(kinds, name);
  return found == kinds.end() ? nullptr : &*found;
}

std::vector<std::string> decoder_kinds() { return names_of(all_decoder_kinds()); }

std::unique_ptr<Decoder> make_decoder(const MeterDefinition& definition) {
  const DecoderKind* kind = decoder_kind(definition.decoder.kind);
  if (!kind)
    throw Error(ErrorKind::usage, "there is no decoder called " + in_quotes(definition.decoder.kind), definition.id,
                suggestion(definition.decoder.kind, decoder_kinds()));
  const auto problems = check_settings(*kind, definition.decoder);
  if (!problems.empty()) {
    std::string text;
    for (const SettingProblem& problem : problems) text += (text.empty() ? "" : "\n") + problem.text;
    throw Error(ErrorKind::usage, text, definition.id, "correct the meter definition");
  }
  return kind->make(definition);
}

std::string option_or(const DecoderSettings& settings, const std::string& name, const std::string& otherwise) {
  const auto found = settings.options.find(name);
  return found == settings.options.end() ? otherwise : found->second;
}

int whole_option_or(const DecoderSettings& settings, const std::string& name, int otherwise) {
  const std::string text = option_or(settings, name, "");
  int value = otherwise;
  std::from_chars(text.data(), text.data() + text.size(), value);
  return value;
}

const std::map<std::string, std::string>& table_or_empty(const DecoderSettings& settings, std::string_view name) {
  static const std::map<std::string, std::string> empty;
  const auto found = settings.tables.find(std::string{name});
  return found == settings.tables.end() ? empty : found->second;
}

bool is_count(std::string_view text) {
  return !text.empty() && text.size() <= 6 && text.find_first_not_of("0123456789") == std::string_view::npos &&
         text.find_first_not_of('0') != std::string_view::npos;
}

}  // namespace switchwright
