#include "sim/marks.hpp"

namespace switchwright::sim {

namespace {

std::string prefix_word(int exponent) {
  switch (exponent) {
    case -9: return "nano";
    case -6: return "micro";
    case -3: return "milli";
    case 3: return "kilo";
    case 6: return "mega";
    default: return {};
  }
}

std::vector<std::string> function_words(Quantity quantity) {
  switch (quantity) {
    case Quantity::resistance:
    case Quantity::resistance_4_wire: return {"ohm"};
    case Quantity::continuity: return {"ohm", "continuity"};
    case Quantity::diode: return {"volt", "diode"};
    case Quantity::voltage_dc: return {"volt", "dc"};
    case Quantity::voltage_ac: return {"volt", "ac"};
    case Quantity::current_dc: return {"ampere", "dc"};
    case Quantity::current_ac: return {"ampere", "ac"};
    case Quantity::frequency: return {"hertz", "judge"};
    case Quantity::duty: return {"percent"};
    case Quantity::capacitance: return {"farad"};
    case Quantity::temperature: return {"celsius"};
  }
  return {};
}

}  // namespace

std::vector<std::string> marks_of(const Display& display) {
  std::vector<std::string> marks = function_words(display.quantity);
  if (const std::string prefix = prefix_word(notation_of(display).exponent); !prefix.empty()) marks.push_back(prefix);
  if (display.autorange) marks.emplace_back("auto");
  if (display.state == ReadingState::over_range)
    marks.emplace_back("over-range");
  else if (display.counts < 0)
    marks.emplace_back("minus");
  return marks;
}

const std::map<std::string, std::string>& table_of(const MeterDefinition& definition, std::string_view name) {
  static const std::map<std::string, std::string> none;
  const auto found = definition.decoder.tables.find(std::string{name});
  return found == definition.decoder.tables.end() ? none : found->second;
}

MarkTable::MarkTable(const std::map<std::string, std::string>& symbols) {
  for (const auto& [key, word] : symbols) {
    const auto dot = key.rfind('.');
    if (dot == std::string::npos || dot + 2 != key.size()) continue;
    places_.emplace(word, Place{key.substr(0, dot), static_cast<unsigned>(key.back() - '0')});
  }
}

void MarkTable::light(const std::vector<std::string>& marks,
                      const std::function<void(const std::string& byte, unsigned bit)>& light) const {
  for (const std::string& mark : marks)
    if (const auto place = places_.find(mark); place != places_.end()) light(place->second.byte, place->second.bit);
}

}  // namespace switchwright::sim
