// Numbers for people. A value and its uncertainty share their prefix and their decimals.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/view.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

struct Scale {
  double factor;
  const char* prefix;
};

Scale scale_for(double magnitude) {
  for (const Scale scale : {Scale{1e9, "G"}, Scale{1e6, "M"}, Scale{1e3, "k"}})
    if (magnitude >= scale.factor) return scale;
  return {1.0, ""};
}

/// Two significant figures (JCGM 100 7.2.6).
int decimals_of(double U, double factor) {
  if (!(U > 0.0)) return 1;
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(U / factor) + 1e-9)), 0, 6);
}

double without_negative_zero(double value, int decimals) {
  return std::abs(value) < 0.5 * std::pow(10.0, -decimals) ? 0.0 : value;
}

}  // namespace

std::string value_text(double value, const std::optional<double>& U, Quantity quantity, double resolution) {
  if (!U) return human_value(std::abs(value) < 0.5 * resolution ? 0.0 : value, quantity, resolution);
  const Scale scale = scale_for(std::max(std::abs(value), *U));
  const int decimals = decimals_of(*U, scale.factor);
  return fmt::format("{:.{}f} {}{}", without_negative_zero(value / scale.factor, decimals), decimals,
                     scale.prefix, unit_of(quantity));
}

std::string uncertainty_text(double value, double U, Quantity quantity) {
  const Scale scale = scale_for(std::max(std::abs(value), U));
  return fmt::format("{:.{}f} {}{}", U / scale.factor, decimals_of(U, scale.factor), scale.prefix,
                     unit_of(quantity));
}

std::string result_text(const Finding& finding) {
  const Indication& indication = finding.indication;
  if (indication.state == ReadingState::over_range)
    return indication.beyond ? "open (more than " + human_value(*indication.beyond, indication.quantity) + ")"
                             : "open";
  if (indication.state != ReadingState::finite) return "no value";
  const double value = finding.corrected.value_or(indication.value);
  if (!finding.U) return value_text(value, finding.U, indication.quantity, indication.resolution);
  const Scale scale = scale_for(std::max(std::abs(value), *finding.U));
  const int decimals = decimals_of(*finding.U, scale.factor);
  return fmt::format("({:.{}f} +/- {:.{}f}) {}{}", without_negative_zero(value / scale.factor, decimals),
                     decimals, *finding.U / scale.factor, decimals, scale.prefix,
                     unit_of(indication.quantity));
}

std::string shown_text(const Indication& indication) {
  if (indication.state == ReadingState::over_range)
    return indication.beyond ? "over-range, > " + human_value(*indication.beyond, indication.quantity)
                             : "over-range";
  if (indication.state != ReadingState::finite) return "no value";
  return human_value(indication.value, indication.quantity, indication.resolution);
}

std::string must_be(const Expectation& expected) {
  switch (expected.state) {
    case PairState::open:
      return "open, at least " + human_ohm(expected.ohm.min);
    case PairState::closed:
      return "closed, at most " + human_ohm(expected.ohm.max);
    case PairState::element:
      return human_ohm(expected.ohm.min) + " to " + human_ohm(expected.ohm.max);
    case PairState::not_checked:
      return "not checked";
  }
  return {};
}

std::string time_text(Wall wall) {
  const std::string iso = iso8601(wall);
  return iso.substr(0, 10) + " " + iso.substr(11, 8) + " UTC";
}

}  // namespace switchwright
