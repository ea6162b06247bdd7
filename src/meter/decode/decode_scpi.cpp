// SCPI-1999 answers: one line of text, one or more numbers joined by commas, no unit (published).
// The traps: NR1, NR2 and NR3 for any value; +9.9E37 means over-range and 9.91E37 not a number, and float32
// meters print 9.8999998E37; some meters answer a word, append a unit or send it as a field of its own, put
// quotes around the answer, echo the command, or print a prompt.
//
//   [decoder.words]  WORD = "over-range" | "not-a-number"     words a meter prints in place of a number
#include <algorithm>
#include <cctype>
#include <cmath>
#include <optional>

#include "meter/decode/decoder_kind.hpp"
#include "meter/decode/line_splitter.hpp"
#include "meter/decode/scaled.hpp"
#include "meter/link/dialogue_text.hpp"

namespace switchwright {

namespace {

constexpr double over_range_from = 9.85e37;     // 9.9E37 with the rounding of float32
constexpr double not_a_number_from = 9.905e37;  // half-way from 9.9E37 to 9.91E37
constexpr double nonsense_from = 1e38;
constexpr std::size_t longest_line = 16384;  // a block of a thousand readings
constexpr std::chrono::milliseconds line_feed_follows{40};
constexpr std::size_t longest_plain_integer = 8;  // more digits without sign, point or exponent are some other frame

std::string upper(std::string_view text) {
  std::string result(text);
  for (char& c : result) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return result;
}

/// Takes one pair of quotes off that encloses all of the text.
std::string_view without_quotes(std::string_view text) {
  if (text.size() < 2 || (text.front() != '"' && text.front() != '\'') || text.back() != text.front()) return text;
  const std::string_view inside = text.substr(1, text.size() - 2);
  return inside.find(text.front()) == std::string_view::npos ? trimmed(inside) : text;
}

class ScpiDecoder final : public Decoder {
 public:
  explicit ScpiDecoder(const MeterDefinition& definition) : definition_(definition) {
    for (const auto& [word, meaning] : table_or_empty(definition.decoder, "words"))
      words_[upper(word)] = meaning == "over-range" ? ReadingState::over_range : ReadingState::not_a_number;
    if (!definition.functions.empty()) quantity_ = definition.functions.front().quantity;
    auto sent = [this](std::string_view command) { sent_.push_back(upper(trimmed(command))); };
    if (definition.poll) sent(definition.poll->request);
    for (const std::string& command : definition.start_commands) sent(command);
    for (const std::string& command : definition.stop_commands) sent(command);
    for (const FunctionCommands& function : definition.functions) {
      for (const std::string& command : function.send) sent(command);
      if (!function.request.empty()) sent(function.request);
    }
    for (const std::string& query : definition.function_queries) sent(query);
    for (const char* command : {"*IDN?", "SYST:ERR?", "SYSTem:ERRor?"}) sent(command);
  }

  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    const auto take_line = [&](std::string_view line) { take(line, at, out); };
    // Some meters end their lines with CR alone. A live link notices that at once (link_dialogue.cpp), a
    // capture here.
    if (!bytes.empty() && bytes.front() != '\n' && splitter_.pending().ends_with('\r') &&
        at.monotonic - last_ > line_feed_follows)
      splitter_.end_line(take_line);
    last_ = at.monotonic;
    splitter_.feed(bytes, counts_, take_line);
  }

  void reset() override { splitter_.reset(counts_); }
  void selected(Quantity quantity) override { quantity_ = quantity; }

 private:
  void take(std::string_view line, Instant at, std::vector<Reading>& out) {
    const std::string_view text = is_text(line) ? without_prompt(line) : std::string_view{};
    if (!is_text(line)) return reject("byte that is not text", line);
    if (text.empty() || std::find(sent_.begin(), sent_.end(), upper(text)) != sent_.end()) {
      counts_.skipped_bytes += line.size();  // an empty line, a prompt alone, or the echo of a command
      return;
    }
    const std::size_t first = out.size();
    for (std::string_view rest = without_quotes(text);;) {
      std::size_t comma = rest.find(',');
      std::string value{without_quotes(trimmed(rest.substr(0, comma)))};
      if (comma != std::string_view::npos) {
        // "+1.2E+3,OHM": the unit of the number before it.
        const std::string_view behind = rest.substr(comma + 1);
        const std::size_t next = behind.find(',');
        Quantity ignored = quantity_;
        const std::string_view unit = without_quotes(trimmed(behind.substr(0, next)));
        if (appended_unit(unit, ignored)) {
          value.append(" ").append(unit);
          comma = next == std::string_view::npos ? next : comma + 1 + next;
        }
      }
      auto reading = field(value);
      if (!reading) {
        out.resize(first);  // a line is taken whole or not at all
        return reject("line that is not a reading", line);
      }
      reading->at = at;
      reading->raw = line;
      out.push_back(std::move(*reading));
      if (comma == std::string_view::npos) break;
      rest.remove_prefix(comma + 1);
    }
    ++counts_.accepted;
  }

  /// The state that a word of the definition stands for; a unit may follow ("OVLD kOHM").
  std::optional<ReadingState> word_of(std::string_view text, Quantity& quantity) const {
    if (const auto word = words_.find(upper(text)); word != words_.end()) return word->second;
    const std::size_t blank = text.find(' ');
    if (blank == std::string_view::npos) return std::nullopt;
    const auto word = words_.find(upper(text.substr(0, blank)));
    if (word == words_.end() || !appended_unit(trimmed(text.substr(blank)), quantity)) return std::nullopt;
    return word->second;
  }

  std::optional<Reading> field(std::string_view text) const {
    Reading reading;
    reading.quantity = quantity_;
    if (const auto state = word_of(text, reading.quantity)) {
      reading.state = *state;
      if (reading.state == ReadingState::over_range) reading.beyond = fixed_range();
      return reading;
    }
    std::string_view rest = text;
    const auto number = take_number(rest, NumberForm::scpi);
    if (!number) return std::nullopt;
    if (is_other_frame(text)) return std::nullopt;
    Unit unit{Dimension::ohm, 0};  // without a unit the number is in the SI unit already
    if (!trimmed(rest).empty()) {
      const auto appended = appended_unit(trimmed(rest), reading.quantity);
      if (!appended) return std::nullopt;
      unit = *appended;
    }
    const double bare = std::abs(number->value());
    if (!(bare < nonsense_from)) return std::nullopt;
    if (bare >= not_a_number_from) {
      reading.state = ReadingState::not_a_number;
    } else if (bare >= over_range_from) {
      reading.state = ReadingState::over_range;
      reading.beyond = fixed_range();
    } else {
      const InSi si = in_si(*number, unit);
      reading.value = si.value;
      reading.resolution = step_of(reading.quantity, si);
    }
    return reading;
  }

  /// The full scale that the tool has set; nothing when the meter picks its range.
  std::optional<double> fixed_range() const {
    const FunctionCommands* function = definition_.function_for(quantity_);
    return function ? function->range : std::nullopt;
  }

  /// Digits alone that no meter prints as a reading: frames of other meters look like that.
  static bool is_other_frame(std::string_view text) {
    if (text.find_first_not_of("0123456789") != std::string_view::npos) return false;
    return text.size() > longest_plain_integer || (text.size() > 1 && text.front() == '0');
  }

  /// A bench meter prints more decimals than it measures: one digit is the coarser of the last printed digit
  /// and what the accuracy table says of the range.
  double step_of(Quantity quantity, const InSi& si) const {
    const AccuracyRow* row = definition_.accuracy_for(quantity, si.value, 0.0);
    return row ? std::max(row->resolution, si.step) : si.step;
  }

  /// "V DC", "mV", "ohm", "KOHM", "VAC", "OHM4W": what the meter says outranks what was selected. In capitals
  /// M is mega before OHM and HZ and milli elsewhere (IEEE 488.2, 7.7.3, from memory).
  static std::optional<Unit> appended_unit(std::string_view text, Quantity& quantity) {
    const std::size_t blank = text.find(' ');
    std::string mode_word = blank == std::string_view::npos ? "" : upper(trimmed(text.substr(blank)));
    std::string name(text.substr(0, blank));
    const auto ends_in = [&](std::string_view end) { return name.size() >= end.size() && upper(name).ends_with(end); };
    const auto replace_end = [&](std::string_view end, const char* by) {
      if (ends_in(end)) name.replace(name.size() - end.size(), end.size(), by);
    };
    for (const char* mode : {"AC", "DC"})
      if (mode_word.empty() && (ends_in(std::string("V") + mode) || ends_in(std::string("A") + mode))) {
        mode_word = mode;
        name.resize(name.size() - 2);
      }
    const bool four_wire = ends_in("OHM4W");
    replace_end("OHM4W", "ohm");
    replace_end("OHMS", "ohm");
    replace_end("OHM", "ohm");
    replace_end("HZ", "Hz");
    if (name.starts_with('K')) name.front() = 'k';
    if (name == "MV" || name == "MA") name.front() = 'm';
    if (!mode_word.empty() && mode_word != "AC" && mode_word != "DC") return std::nullopt;
    const auto unit = unit_named(name);
    if (!unit) return std::nullopt;
    if (four_wire) {
      quantity = Quantity::resistance_4_wire;
      return unit;
    }
    Mode mode{mode_word == "AC", mode_word == "DC", false, false};
    const bool has_mode = mode.ac || mode.dc;
    if (fits(quantity, unit->dimension) && !has_mode) return unit;
    if (!has_mode) mode.dc = true;
    const auto said = quantity_of(unit->dimension, mode);
    if (!said) return std::nullopt;
    quantity = *said;
    return unit;
  }

  void reject(const char* reason, std::string_view line) { counts_.reject_line(reason, line); }

  const MeterDefinition definition_;
  std::map<std::string, ReadingState> words_;
  std::vector<std::string> sent_;
  Quantity quantity_ = Quantity::resistance;
  LineSplitter splitter_{'\n', longest_line};
  Monotonic last_{};
};

}  // namespace

DecoderKind scpi_kind() {
  DecoderKind kind;
  kind.name = "scpi";
  kind.tables = {{"words",
                  false,
                  "a word",
                  [](std::string_view key) { return !trimmed(key).empty(); },
                  "\"over-range\" or \"not-a-number\"",
                  [](std::string_view value) { return value == "over-range" || value == "not-a-number"; },
                  {"over-range", "not-a-number"}}};
  kind.make = [](const MeterDefinition& definition) -> std::unique_ptr<Decoder> {
    return std::make_unique<ScpiDecoder>(definition);
  };
  return kind;
}

}  // namespace switchwright
