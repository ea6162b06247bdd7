#include "sim/meter_model.hpp"

#include <algorithm>
#include <cmath>

namespace switchwright::sim {

namespace {

/// A sound meter sits well inside its accuracy: the fixed error takes at most a third of it.
constexpr double share_of_accuracy = 1.0 / 3.0;
/// Half-width of the flicker, in digits: neighbouring readings differ by one digit, now and then by two.
constexpr double flicker_digits = 0.8;

double one_in(std::mt19937_64& engine, double from, double to) {
  return std::uniform_real_distribution<>{from, to}(engine);
}

}  // namespace

MeterModel::MeterModel(const MeterDefinition& definition, std::uint64_t seed) : noise_(seed) {
  for (const AccuracyRow& row : definition.accuracy) {
    Range range{.row = row};
    range.gain_error = one_in(noise_, -1.0, 1.0) * share_of_accuracy * row.percent_of_reading / 100.0;
    range.offset_error = one_in(noise_, -1.0, 1.0) * share_of_accuracy * row.digits * row.resolution;
    ranges_.push_back(range);
  }
  std::stable_sort(ranges_.begin(), ranges_.end(),
                   [](const Range& a, const Range& b) { return a.row.full_scale < b.row.full_scale; });
}

std::vector<const MeterModel::Range*> MeterModel::ranges_for(Quantity quantity) const {
  std::vector<const Range*> found;
  for (const Range& range : ranges_)
    if (range.row.quantity == quantity && range.row.resolution > 0.0) found.push_back(&range);
  if (found.empty() && quantity == Quantity::continuity) {
    const auto ohms = ranges_for(Quantity::resistance);
    if (!ohms.empty()) found.push_back(ohms.front());
  }
  return found;
}

bool MeterModel::measures(Quantity quantity) const { return !ranges_for(quantity).empty(); }

Display MeterModel::convert(Quantity quantity, double value) {
  Display display{.quantity = quantity, .state = ReadingState::not_a_number};
  display.autorange = quantity != Quantity::continuity && quantity != Quantity::diode;
  const double flicker = one_in(noise_, -flicker_digits, flicker_digits);
  for (const Range* range : ranges_for(quantity)) {
    const AccuracyRow& row = range->row;
    display.resolution = row.resolution;
    display.full_scale = row.full_scale;
    display.state = ReadingState::over_range;
    if (!std::isfinite(value)) continue;
    double digits = (value * (1.0 + range->gain_error) + range->offset_error) / row.resolution + flicker;
    if (value >= 0.0 && quantity != Quantity::voltage_dc && quantity != Quantity::current_dc &&
        quantity != Quantity::temperature)
      digits = std::max(digits, 0.0);
    if (std::abs(digits) > std::round(row.full_scale / row.resolution)) continue;
    display.counts = std::llround(digits);
    display.state = ReadingState::finite;
    return display;
  }
  return display;
}

Display MeterModel::convert_between(const Display& before, double value) {
  const double share = one_in(noise_, 0.3, 0.7);
  // From or to an open circuit the converter meets some large finite value on its way.
  const auto ranges = ranges_for(before.quantity);
  const double large = ranges.empty() ? 0.0 : ranges.back()->row.full_scale * share;
  const bool was_finite = before.state == ReadingState::finite;
  if (was_finite && std::isfinite(value))
    return convert(before.quantity, before.value() + share * (value - before.value()));
  return convert(before.quantity, was_finite != std::isfinite(value) ? large : value);
}

}  // namespace switchwright::sim
