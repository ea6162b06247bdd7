#include "switchwright/core/quantity.hpp"

#include <array>

namespace switchwright {

namespace {

struct Row {
  Quantity quantity;
  std::string_view name;
  std::string_view unit;
  std::string_view dial;
};

constexpr std::array rows{
    Row{Quantity::resistance, "resistance", "ohm", "ohms"},
    Row{Quantity::resistance_4_wire, "resistance-4-wire", "ohm", "four-wire ohms"},
    Row{Quantity::continuity, "continuity", "ohm", "continuity"},
    Row{Quantity::diode, "diode", "V", "diode test"},
    Row{Quantity::voltage_dc, "voltage-dc", "V", "DC volts"},
    Row{Quantity::voltage_ac, "voltage-ac", "V", "AC volts"},
    Row{Quantity::current_dc, "current-dc", "A", "DC amperes"},
    Row{Quantity::current_ac, "current-ac", "A", "AC amperes"},
    Row{Quantity::frequency, "frequency", "Hz", "frequency"},
    Row{Quantity::duty, "duty", "1", "duty"},
    Row{Quantity::capacitance, "capacitance", "F", "capacitance"},
    Row{Quantity::temperature, "temperature", "degC", "temperature"},
};

const Row& row_of(Quantity quantity) {
  for (const Row& row : rows)
    if (row.quantity == quantity) return row;
  return rows.front();
}

}  // namespace

std::string_view name_of(Quantity quantity) { return row_of(quantity).name; }
std::string_view unit_of(Quantity quantity) { return row_of(quantity).unit; }
std::string_view dial_words(Quantity quantity) { return row_of(quantity).dial; }

std::optional<Quantity> quantity_named(std::string_view name) {
  for (const Row& row : rows)
    if (row.name == name) return row.quantity;
  return std::nullopt;
}

bool is_resistance(Quantity quantity) {
  return quantity == Quantity::resistance || quantity == Quantity::resistance_4_wire ||
         quantity == Quantity::continuity;
}

bool is_voltage(Quantity quantity) { return quantity == Quantity::voltage_dc || quantity == Quantity::voltage_ac; }

}  // namespace switchwright
