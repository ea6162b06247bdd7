// A line of text as the definition's pattern describes it: fields {value}, {unit}, {function}, {word},
// {digits}, blanks and literal characters. The words of the meter are those of the tables "units",
// "functions" and "words".
#include <cstdlib>

#include "sim/encoder.hpp"
#include "sim/marks.hpp"
#include "sim/unit_code.hpp"

namespace switchwright::sim {

namespace {

std::string option_of(const MeterDefinition& definition, const std::string& name) {
  const auto found = definition.decoder.options.find(name);
  return found == definition.decoder.options.end() ? std::string{} : found->second;
}

class LinePatternEncoder final : public Encoder {
 public:
  explicit LinePatternEncoder(const MeterDefinition& definition)
      : pattern_(option_of(definition, "pattern")),
        most_(static_cast<std::size_t>(std::strtoul(option_of(definition, "max_length").c_str(), nullptr, 10))),
        units_(table_of(definition, "units")),
        functions_(table_of(definition, "functions")) {
    const std::string end = option_of(definition, "line_end");
    end_ = end == "cr" ? "\r" : end == "lf" ? "\n" : "\r\n";
    if (const std::string unit = option_of(definition, "unit"); !unit.empty()) units_.emplace("", unit);
    for (const auto& [word, meaning] : table_of(definition, "words"))
      if (meaning == "over-range" && overload_.empty()) overload_ = word;
  }

  std::string shown(const Display& display) override {
    if (display.state == ReadingState::not_a_number) return {};
    const bool over = display.state == ReadingState::over_range;
    const auto unit = unit_code(units_, display);
    const std::string function = function_word(display.quantity);
    const bool needs_function = pattern_.find("{function}") != std::string::npos;
    if (!unit || (needs_function && function.empty()) || (over && overload_.empty())) return {};
    std::string value = over ? overload_ : digits_in(display, unit->exponent);
    if (!over && display.counts < 0)
      value.insert(value.begin(), '-');
    else if (most_ > 0)
      value.insert(value.begin(), ' ');  // a display of fixed width keeps the column of the sign
    return line(value, unit->code, function) + end_;
  }

 private:
  std::string function_word(Quantity quantity) const {
    const bool ac = quantity == Quantity::voltage_ac || quantity == Quantity::current_ac;
    const bool dc = quantity == Quantity::voltage_dc || quantity == Quantity::current_dc;
    for (const auto& [word, meaning] : functions_)
      if (meaning == name_of(quantity) || (ac && meaning == "ac") || (dc && meaning == "dc")) return word;
    return {};
  }

  std::string line(const std::string& value, const std::string& unit, const std::string& function) const {
    std::string text;
    std::size_t unit_at = std::string::npos;
    for (std::size_t at = 0; at < pattern_.size();) {
      const std::size_t close = pattern_[at] == '{' ? pattern_.find('}', at) : std::string::npos;
      if (close == std::string::npos) {
        text += pattern_[at++];
        continue;
      }
      const std::string field = pattern_.substr(at + 1, close - at - 1);
      at = close + 1;
      if (field == "unit") unit_at = text.size();
      text += field == "value"      ? value
              : field == "unit"     ? unit
              : field == "function" ? function
              : field == "digits"   ? std::string{"1"}
                                    : std::string{"x"};
    }
    if (most_ == 0 || unit_at == std::string::npos) return text;
    // A line of fixed width: the unit stands at its right end.
    const std::size_t width = most_ - end_.size();
    while (text.size() > width && unit_at > 0 && text[unit_at - 1] == ' ') text.erase(--unit_at, 1);
    if (text.size() < width) text.insert(unit_at, width - text.size(), ' ');
    return text;
  }

  std::string pattern_;
  std::size_t most_;  ///< longest line with its end; 0: no fixed width
  std::string end_;
  std::map<std::string, std::string> units_;
  std::map<std::string, std::string> functions_;
  std::string overload_;
};

}  // namespace

std::unique_ptr<Encoder> line_pattern_encoder(const MeterDefinition& definition) {
  return std::make_unique<LinePatternEncoder>(definition);
}

}  // namespace switchwright::sim
