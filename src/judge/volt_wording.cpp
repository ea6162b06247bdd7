#include "judge/volt_wording.hpp"

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "switchwright/core/text.hpp"

namespace switchwright::wording {

namespace {

/// Limits are computed numbers: a tenth of a volt is finer than anybody needs, from 10 V on.
std::string limit(double value) {
  return value < 10.0 ? fmt::format("{:.3g} V", value) : fmt::format("{:g} V", std::round(value * 10.0) / 10.0);
}

}  // namespace

std::string volts(double value, double resolution) { return human_value(value, Quantity::voltage_ac, resolution); }

std::string two_figures_volts(double U) {
  if (!(U > 0.0) || std::isinf(U)) return human_value(U, Quantity::voltage_ac);
  if (U < 0.0995) return fmt::format("{:.2g} mV", U * 1e3);
  const int decimals = 1 - static_cast<int>(std::floor(std::log10(U)));
  return decimals > 0 ? fmt::format("{:.{}f} V", U, decimals) : fmt::format("{:.0f} V", U);
}

std::string must_be(const VoltageExpectation& expected) {
  if (expected.state == VoltageState::unsolved) return "what it must be is not known";
  if (expected.state == VoltageState::not_checked)
    return expected.stray_max_v ? "off (a stray reading of at most " + limit(*expected.stray_max_v) + ")" : "left out";
  std::string text;
  for (const Interval& band : expected.bands) {
    if (!text.empty()) text += " or ";
    if (band.min > 0.0)
      text += "live (" + limit(band.min) + " to " + limit(band.max) + ")";
    else if (expected.state == VoltageState::divided)
      text += "at most " + limit(band.max);
    else if (expected.stray_max_v)
      text += "off (a stray reading of at most " + limit(band.max) + ")";
    else
      text += "dead (at most " + limit(band.max) + ")";
  }
  return text;
}

}  // namespace switchwright::wording
