// A line of text with a value and its unit, described wholly by the definition: no code per meter.
//
//   pattern = "{function} {value} {unit}"   see line_pattern.hpp
//   line_end = "crlf" | "lf" | "cr"         default crlf, which takes a bare LF too
//   strip = '"'                             characters dropped at both ends of the line, blanks always
//   min_length, max_length                  of the line with its end, in characters
//   unit = "ohm"                            when the pattern has no {unit}
//   [decoder.units]      the meter's spelling = "UNIT" or "UNIT ac|dc|diode|continuity"
//   [decoder.functions]  the meter's word = "ac", "dc", "ignored", or a quantity; needed with {function}
//   [decoder.words]      what stands in place of a number = "over-range" | "not-a-number"
#include <algorithm>

#include "meter/decode/decoder_kind.hpp"
#include "meter/decode/line_pattern.hpp"
#include "meter/decode/line_splitter.hpp"

namespace switchwright {

namespace {

constexpr std::size_t longest_line = 256;

struct Function {
  std::optional<Quantity> quantity;
  Mode mode;
};

std::optional<Function> function_meaning(std::string_view word) {
  if (word == "ignored") return Function{};
  if (word == "ac") return Function{std::nullopt, {true, false, false, false}};
  if (word == "dc") return Function{std::nullopt, {false, true, false, false}};
  if (const auto quantity = quantity_named(word)) return Function{quantity, {}};
  return std::nullopt;
}

std::size_t length_option(const DecoderSettings& settings, const char* name, int otherwise) {
  return static_cast<std::size_t>(whole_option_or(settings, name, otherwise));
}

class LinePatternDecoder final : public Decoder {
 public:
  explicit LinePatternDecoder(const MeterDefinition& definition)
      : pattern_(*LinePattern::compile(option_or(definition.decoder, "pattern", ""))),
        strip_(option_or(definition.decoder, "strip", "") + " \r\n"),
        least_(length_option(definition.decoder, "min_length", 0)),
        most_(length_option(definition.decoder, "max_length", longest_line)),
        splitter_(option_or(definition.decoder, "line_end", "crlf") == "cr" ? '\r' : '\n', longest_line) {
    if (!pattern_.has_unit()) fixed_unit_ = unit_in_mode(option_or(definition.decoder, "unit", ""));
    for (const auto& [spelling, text] : table_or_empty(definition.decoder, "units"))
      units_.emplace(spelling, unit_in_mode(text).value_or(UnitInMode{}));
    for (const auto& [word, meaning] : table_or_empty(definition.decoder, "functions"))
      functions_.emplace(word, function_meaning(meaning).value_or(Function{}));
    for (const auto& [word, meaning] : table_or_empty(definition.decoder, "words")) {
      words_.push_back(word);
      states_[word] = meaning == "over-range" ? ReadingState::over_range : ReadingState::not_a_number;
    }
    std::stable_sort(words_.begin(), words_.end(),
                     [](const std::string& a, const std::string& b) { return a.size() > b.size(); });
  }

  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    splitter_.feed(bytes, counts_, [&](std::string_view line) {
      if (line.front() == '\n' && line.size() > 1) {  // a line feed after the carriage return that ends lines
        line.remove_prefix(1);
        ++counts_.skipped_bytes;
      }
      if (trimmed(line).empty()) {
        counts_.skipped_bytes += line.size();
        return;
      }
      Reading reading;
      if (const char* reason = read(line, reading)) {
        counts_.reject_line(reason, line);
        return;
      }
      reading.at = at;
      reading.raw = line;
      ++counts_.accepted;
      out.push_back(std::move(reading));
    });
  }

  void reset() override { splitter_.reset(counts_); }

 private:
  std::string_view stripped(std::string_view line) const {
    const std::size_t first = line.find_first_not_of(strip_);
    if (first == std::string_view::npos) return {};
    return line.substr(first, line.find_last_not_of(strip_) - first + 1);
  }

  const char* read(std::string_view line, Reading& reading) const {
    if (!is_text(line)) return "byte that is not text";
    if (line.size() < least_ || line.size() > most_) return "line of another length";
    const auto fields = pattern_.match(stripped(line), words_);
    if (!fields) return "line that does not fit the pattern";
    UnitInMode unit;
    if (pattern_.has_unit()) {
      const auto found = units_.find(fields->unit);
      if (found == units_.end()) return "unit that the definition does not list";
      unit = found->second;
    } else {
      unit = *fixed_unit_;
    }
    std::optional<Quantity> quantity;
    if (pattern_.has_function()) {
      const auto function = functions_.find(fields->function);
      if (function == functions_.end()) return "function that the definition does not list";
      quantity = function->second.quantity;
      unit.mode.ac = unit.mode.ac || function->second.mode.ac;
      unit.mode.dc = unit.mode.dc || function->second.mode.dc;
    }
    if (!quantity) quantity = quantity_of(unit.unit.dimension, unit.mode);
    if (!quantity || !fits(*quantity, unit.unit.dimension)) return "unit and function contradict each other";
    reading.quantity = *quantity;
    if (!fields->number) {
      reading.state = states_.find(fields->value_word)->second;
      return nullptr;
    }
    const InSi si = in_si(*fields->number, unit.unit);
    reading.value = si.value;
    reading.resolution = si.step;
    return nullptr;
  }

  LinePattern pattern_;
  std::string strip_;
  std::size_t least_;
  std::size_t most_;
  LineSplitter splitter_;
  std::optional<UnitInMode> fixed_unit_;
  std::map<std::string, UnitInMode, std::less<>> units_;
  std::map<std::string, Function, std::less<>> functions_;
  std::map<std::string, ReadingState, std::less<>> states_;
  std::vector<std::string> words_;
};

bool is_length(std::string_view text) { return is_count(text) && text.size() <= 3; }
bool is_word(std::string_view key) { return !key.empty() && key == trimmed(key); }
bool is_field(std::string_view key) { return is_word(key) && key.find_first_of(" \t") == std::string_view::npos; }
bool is_unit(std::string_view text) { return unit_in_mode(text).has_value(); }

std::vector<SettingProblem> cross_check(const DecoderSettings& settings) {
  std::vector<SettingProblem> problems;
  const auto pattern = LinePattern::compile(option_or(settings, "pattern", ""));
  const auto need_table = [&](const char* name, const char* field) {
    if (table_or_empty(settings, name).empty())
      problems.push_back(
          {"", "pattern",
           std::string("expected the table [decoder.") + name + "] for " + field + " in the pattern, saw none"});
  };
  if (pattern->has_function()) need_table("functions", "{function}");
  if (pattern->has_unit()) need_table("units", "{unit}");
  if (!pattern->has_unit() && !settings.options.contains("unit"))
    problems.push_back({"", "pattern", "expected {unit} in the pattern or unit = a unit, saw neither"});
  return problems;
}

}  // namespace

DecoderKind line_pattern_kind() {
  DecoderKind kind;
  kind.name = "line-pattern";
  const char* const length = "a whole number from 1 to 999";
  kind.options = {
      {"pattern", true, "a text with {value} once, and {unit}, {function}, {word}, {digits} where they stand",
       [](std::string_view text) { return LinePattern::compile(text).has_value(); }},
      {"line_end", false, "\"crlf\", \"lf\" or \"cr\"",
       [](std::string_view text) { return text == "crlf" || text == "lf" || text == "cr"; }},
      {"strip", false, "characters", nullptr},
      {"min_length", false, length, is_length},
      {"max_length", false, length, is_length},
      {"unit", false, "a unit such as \"mV dc\" or \"ohm\"", is_unit}};
  kind.tables = {{"units",
                  false,
                  "a spelling without blanks",
                  is_field,
                  "a unit such as \"mV\", \"kohm\" or \"V dc\"",
                  is_unit,
                  {}},
                 {"functions",
                  false,
                  "a word without blanks",
                  is_field,
                  "\"ac\", \"dc\", \"ignored\" or a quantity such as \"resistance\"",
                  [](std::string_view text) { return function_meaning(text).has_value(); },
                  {"ac", "dc", "ignored", "resistance", "continuity", "diode", "voltage-dc", "voltage-ac", "current-dc",
                   "current-ac", "frequency", "duty", "capacitance", "temperature"}},
                 {"words",
                  false,
                  "a word",
                  is_word,
                  "\"over-range\" or \"not-a-number\"",
                  [](std::string_view value) { return value == "over-range" || value == "not-a-number"; },
                  {"over-range", "not-a-number"}}};
  kind.cross_check = cross_check;
  kind.make = [](const MeterDefinition& definition) -> std::unique_ptr<Decoder> {
    return std::make_unique<LinePatternDecoder>(definition);
  };
  return kind;
}

}  // namespace switchwright
