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

/// Two significant figures of U (JCGM 100 7.2.6), but none that the meter's digit does not have.
int decimals_of(double U, double factor, double resolution) {
  int decimals = U > 0.0 ? 1 - static_cast<int>(std::floor(std::log10(U / factor) + 1e-9)) : 1;
  if (resolution > 0.0)
    decimals = std::min(decimals, static_cast<int>(std::ceil(-std::log10(resolution / factor) - 1e-9)));
  return std::clamp(decimals, 0, 6);
}

/// Never 0, and never less than one digit of the display: nobody knows a value better than it was shown.
double at_least_a_digit(double U, double factor, int decimals, double resolution) {
  return std::max({U / factor, resolution / factor, std::pow(10.0, -decimals)});
}

double without_negative_zero(double value, int decimals) {
  return std::abs(value) < 0.5 * std::pow(10.0, -decimals) ? 0.0 : value;
}

}  // namespace

std::string value_text(double value, const std::optional<double>& U, Quantity quantity, double resolution) {
  value = told_value(value, quantity, resolution);
  if (!U) return human_value(std::abs(value) < 0.5 * resolution ? 0.0 : value, quantity, resolution);
  const Scale scale = scale_for(std::max(std::abs(value), *U));
  const int decimals = decimals_of(*U, scale.factor, resolution);
  return fmt::format("{:.{}f} {}{}", without_negative_zero(value / scale.factor, decimals), decimals, scale.prefix,
                     unit_of(quantity));
}

std::string uncertainty_text(double value, double U, Quantity quantity, double resolution) {
  const Scale scale = scale_for(std::max(std::abs(value), U));
  const int decimals = decimals_of(U, scale.factor, resolution);
  return fmt::format("{:.{}f} {}{}", at_least_a_digit(U, scale.factor, decimals, resolution), decimals, scale.prefix,
                     unit_of(quantity));
}

std::string measured_text(double value, double U, Quantity quantity, double resolution) {
  value = told_value(value, quantity, resolution);
  const Scale scale = scale_for(std::max(std::abs(value), U));
  const int decimals = decimals_of(U, scale.factor, resolution);
  return fmt::format("({:.{}f} +/- {:.{}f}) {}{}", without_negative_zero(value / scale.factor, decimals), decimals,
                     at_least_a_digit(U, scale.factor, decimals, resolution), decimals, scale.prefix,
                     unit_of(quantity));
}

std::string result_text(const Finding& finding) {
  const Indication& indication = finding.indication;
  if (indication.state == ReadingState::over_range)
    return indication.beyond ? "open (more than " + human_value(*indication.beyond, indication.quantity) + ")" : "open";
  if (indication.state != ReadingState::finite) return "no value";
  const double value = finding.corrected.value_or(indication.value);
  if (!finding.U) return value_text(value, finding.U, indication.quantity, indication.resolution);
  return measured_text(value, *finding.U, indication.quantity, indication.resolution);
}

std::string shown_text(const Indication& indication) {
  if (indication.state == ReadingState::over_range)
    return indication.beyond ? "over-range, > " + human_value(*indication.beyond, indication.quantity) : "over-range";
  if (indication.state != ReadingState::finite) return "no value";
  // To the digit first: a prefix chosen for the mean of several readings would promise more than any of them showed.
  const double digit = indication.resolution;
  const double shown = digit > 0.0 ? std::round(indication.value / digit) * digit : indication.value;
  return human_value(shown, indication.quantity, digit);
}

std::string must_be(const Expectation& expected) {
  switch (expected.state) {
    case PairState::open: return "open, at least " + human_ohm(expected.ohm.min);
    case PairState::closed: return "closed, at most " + human_ohm(expected.ohm.max);
    case PairState::element: return human_ohm(expected.ohm.min) + " to " + human_ohm(expected.ohm.max);
    case PairState::not_checked: return "not checked";
  }
  return {};
}

namespace {

std::string day_and_time(Wall wall) {
  const std::string iso = iso8601(wall);
  return iso.substr(0, 10) + " " + iso.substr(11, 8);
}

Wall on_the_wall(Wall wall, const RecordHeader& header) {
  return wall + std::chrono::minutes(header.utc_offset_min.value_or(0));
}

}  // namespace

std::string zone_text(const RecordHeader& header) {
  if (!header.utc_offset_min) return "UTC";
  const int offset = *header.utc_offset_min, size = std::abs(offset);
  const std::string utc =
      offset == 0 ? "UTC" : fmt::format("UTC{}{:02}:{:02}", offset < 0 ? '-' : '+', size / 60, size % 60);
  return header.zone.empty() || header.zone == "UTC" ? utc : header.zone + ", " + utc;
}

std::string time_text(Wall wall, const RecordHeader& header) {
  if (header.utc_offset_min.value_or(0) == 0) return day_and_time(wall) + " UTC";
  const std::string local = day_and_time(on_the_wall(wall, header)), utc = day_and_time(wall);
  return local + " (" + zone_text(header) + "), " + (utc.substr(0, 10) == local.substr(0, 10) ? utc.substr(11) : utc) +
         " UTC";
}

std::string local_time_text(Wall wall, const RecordHeader& header) { return day_and_time(on_the_wall(wall, header)); }

}  // namespace switchwright
