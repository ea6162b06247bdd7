#include "switchwright/meter/typed.hpp"

#include <algorithm>
#include <cmath>

#include "meter/decode/line_splitter.hpp"
#include "meter/decode/scaled.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

constexpr const char* without_accuracy =
    "schema = 1\n"
    "title = \"A display that a person reads; its accuracy is not stated\"\n"
    "provenance = \"typed by hand: without accuracy figures nothing can be decided\"\n"
    "[decoder]\n"
    "kind = \"line-pattern\"\n"
    "pattern = \"{value}\"\n"
    "unit = \"ohm\"\n";

bool is_over_range(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 32) : c; });
  std::erase_if(text, [](char c) { return c == ' ' || c == '.'; });
  return text == "OL" || text == "0L" || text == "+OL" || text == "OVERLOAD";
}

Dimension dimension_of(Quantity quantity) {
  if (is_resistance(quantity)) return Dimension::ohm;
  return is_voltage(quantity) || quantity == Quantity::diode ? Dimension::volt : Dimension::ampere;
}

/// "Ohm", "KOHM" and "kΩ" are what people write.
std::string tidied(std::string unit) {
  for (const std::string_view sign : {"\u03A9", "\u2126"})
    if (const auto at = unit.find(sign); at != std::string::npos) unit.replace(at, sign.size(), "ohm");
  if (unit.ends_with("Ohm") || unit.ends_with("OHM")) unit.replace(unit.size() - 3, 3, "ohm");
  if (unit.starts_with("K")) unit[0] = 'k';
  return unit;
}

[[noreturn]] void refuse(const std::string& why, std::string_view text) {
  throw Error(ErrorKind::usage, why, terminal_safe(text),
              "type what the display shows with its unit, like 47.2 ohm, 1.2 kohm, 230.1 V, or OL");
}

}  // namespace

bool is_typed(std::string_view meter_id) { return meter_id == typed_word || meter_id.starts_with("typed:"); }

MeterDefinition typed_definition(const std::string& named, const SearchPath& where) {
  if (named == typed_word) {
    MeterDefinition bare = parse_meter_definition(without_accuracy, "typed");
    bare.id = named;
    return bare;
  }
  std::string id = named.substr(named.find(':') + 1);
  std::vector<std::string> begun;
  for (const std::string& known : list_meter_definitions(where))
    if (known.starts_with(id) && !id.empty()) begun.push_back(known);
  if (begun.size() == 1) id = begun.front();
  MeterDefinition definition = load_meter_definition(id, where);
  definition.id = "typed:" + definition.id;
  definition.title = "Read from its display and typed: " + definition.title;
  // Nothing is sent to a meter without a cable, and nobody sees its range unless it is stated.
  definition.poll.reset();
  definition.start_commands.clear();
  definition.stop_commands.clear();
  definition.functions.clear();
  return definition;
}

Reading read_typed(std::string_view text, Quantity wanted, Instant at) {
  Reading reading;
  reading.quantity = wanted;
  reading.at = at;
  const std::string_view shown = trimmed(text);
  reading.raw = "typed: " + std::string{shown};
  if (is_over_range(std::string{shown})) {
    reading.state = ReadingState::over_range;
    return reading;
  }
  std::string plain{shown};
  if (comma_may_part_thousands(plain.substr(plain.starts_with('-') ? 1 : 0)))
    refuse("the comma may part thousands or decimals; type it with a point, or without", shown);
  if (std::count(plain.begin(), plain.end(), ',') == 1 && plain.find('.') == std::string::npos)
    plain[plain.find(',')] = '.';
  std::string_view rest = plain;
  const auto number = take_number(rest, NumberForm::plain);
  if (!number) refuse("this is no value", shown);
  std::string unit_text = tidied(std::string{trimmed(rest)});
  if (unit_text.empty()) refuse("the unit is missing", shown);
  for (const char* kind : {" AC", " ac", " DC", " dc"})
    if (unit_text.ends_with(kind)) {
      const bool ac = kind[1] == 'A' || kind[1] == 'a';
      const bool fits_dial = ac ? wanted == Quantity::voltage_ac : wanted == Quantity::voltage_dc;
      if (!fits_dial) refuse("the dial is asked to stand on " + std::string{dial_words(wanted)}, shown);
      unit_text.resize(unit_text.size() - 3);
    }
  const auto unit = unit_named(unit_text);
  if (!unit) refuse("\"" + terminal_safe(unit_text) + "\" is no unit known here", shown);
  if (unit->dimension != dimension_of(wanted))
    refuse("the dial is asked to stand on " + std::string{dial_words(wanted)}, shown);
  const InSi si = in_si(*number, *unit);
  if (!std::isfinite(si.value)) refuse("this is no value", shown);
  reading.value = si.value;
  reading.resolution = si.step;
  return reading;
}

void require_step_of(const MeterDefinition& meter, const Reading& reading, std::string_view text) {
  const AccuracyRow* finest = meter.finest(reading.quantity);
  if (finest == nullptr || reading.state != ReadingState::finite || reading.resolution >= 0.5 * finest->resolution)
    return;
  refuse("this meter's finest step is " + human_value(finest->resolution, reading.quantity, finest->resolution) +
             ", and what was typed has a finer one; m is a thousandth, M a million",
         text);
}

std::string typed_remark(const MeterDefinition& meter) {
  return std::string{
             "Every reading was read from the meter's display and typed by a person; nothing watched it settle, and "
             "the tool saw no frame of the meter."} +
         (meter.accuracy.empty() ? " The meter's accuracy is not stated, so nothing can be decided by it." : "");
}

}  // namespace switchwright
