// What a meter can be asked to measure, and the SI unit in which every value is kept.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace switchwright {

enum class Quantity {
  resistance,         ///< two-wire, ohm
  resistance_4_wire,  ///< four-wire, ohm
  continuity,         ///< resistance in the beeper range, ohm
  diode,              ///< forward drop, V
  voltage_dc,         ///< V
  voltage_ac,         ///< V
  current_dc,         ///< A
  current_ac,         ///< A
  frequency,          ///< Hz
  duty,               ///< fraction
  capacitance,        ///< F
  temperature,        ///< degree Celsius
};

/// "resistance", "resistance-4-wire", "continuity", "voltage-dc", "voltage-ac", ...: the spelling of files and JSON.
std::string_view name_of(Quantity quantity);
/// The reverse of name_of; nothing for an unknown name.
std::optional<Quantity> quantity_named(std::string_view name);
/// "ohm", "V", "A", "Hz", "1", "F", "degC": the unit of files and JSON.
std::string_view unit_of(Quantity quantity);
/// The words a person reads on a meter's dial: "ohms", "AC volts", "DC volts", ...
std::string_view dial_words(Quantity quantity);

/// Resistance two-wire, four-wire or in the beeper range.
bool is_resistance(Quantity quantity);
bool is_voltage(Quantity quantity);

}  // namespace switchwright
