// A person's probes slip, a meter ranges, a display flickers between two digits. A reading counts only when
// several in a row say the same for a stated time, and never when the meter shows something else than it is
// asked for.
#include "switchwright/judge/settle.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace switchwright {

namespace {

/// Two-wire resistance may be read in the beeper range; everything else must be the function asked for.
bool same_function(Quantity wanted, Quantity shown) {
  const auto two_wire = [](Quantity q) { return q == Quantity::resistance || q == Quantity::continuity; };
  return wanted == shown || (two_wire(wanted) && two_wire(shown));
}

/// One digit of the display. A meter that does not show it is taken for a four-figure display whose last
/// digit is not finer than a thousandth of the unit: an agreement rule needs some scale.
double digit_of(const Reading& reading) {
  if (reading.resolution > 0.0) return reading.resolution;
  return std::max(std::abs(reading.value) * 1e-4, 1e-3);
}

/// A coarser reading from before the meter ranged down may stay only when it was near the range boundary (at
/// least 100 of its digits); a "0.00 Mohm" on the way down agrees with everything and says nothing.
bool worth_keeping(const Reading& old, double finest_digit) {
  return digit_of(old) <= finest_digit * 1.5 || std::abs(old.value) >= 100.0 * digit_of(old);
}

bool comparable(const Reading& a, const Reading& b) {
  return a.quantity == b.quantity && a.state == b.state && a.beyond == b.beyond &&
         a.flags.autorange == b.flags.autorange;
}

}  // namespace

std::string refusal(const Reading& reading, Quantity wanted) {
  if (!same_function(wanted, reading.quantity))
    return fmt::format("the meter is on {}; turn the dial to {}", dial_words(reading.quantity), dial_words(wanted));
  if (reading.flags.hold) return "the meter's display is on hold; switch hold off";
  if (reading.flags.relative)
    return "the meter subtracts an offset of its own; switch relative off (the tool subtracts the leads)";
  if (reading.flags.min_max) return "the meter shows a kept minimum or maximum, not the present value; leave that mode";
  if (reading.state == ReadingState::not_a_number || (reading.finite() && !std::isfinite(reading.value)))
    return "the meter shows no value; check its dial, its leads and its fuse";
  return {};
}

double SettleRule::tolerance(Quantity quantity, double value, double digit) const {
  const double by_display = within_digits * digit;
  if (is_resistance(quantity)) return std::max(by_display, floor_ohm);
  return is_voltage(quantity) ? std::max({by_display, floor_v, share_v * value}) : by_display;
}

Settler::Settler(SettleRule rule, Quantity wanted) : rule_(rule), wanted_(wanted) {}

void Settler::reset() {
  window_.clear();
  settled_ = false;
}

std::optional<Indication> Settler::feed(const Reading& reading) {
  if (settled_) return std::nullopt;
  if (!refusal(reading, wanted_).empty()) {
    window_.clear();
    return std::nullopt;
  }
  if (!window_.empty() && (!comparable(window_.back(), reading) || reading.at.monotonic < window_.back().at.monotonic))
    window_.clear();
  window_.push_back(reading);

  if (reading.finite()) {
    std::erase_if(window_, [&](const Reading& old) { return !worth_keeping(old, digit_of(reading)); });
    if (window_.empty()) window_.push_back(reading);
    // Drop the oldest until the rest agrees; the newest always stays.
    const auto disagree = [this] {
      double lowest = window_.front().value, highest = lowest, digit = 0.0;
      for (const Reading& r : window_) {
        lowest = std::min(lowest, r.value);
        highest = std::max(highest, r.value);
        digit = std::max(digit, digit_of(r));
      }
      const double tolerance = rule_.tolerance(wanted_, std::max(std::abs(lowest), std::abs(highest)), digit);
      return highest - lowest > tolerance * (1.0 + 1e-9) + 1e-12;
    };
    while (window_.size() > 1 && disagree()) window_.pop_front();
  }

  const double lasted_s = seconds_between(window_.front().at.monotonic, window_.back().at.monotonic);
  if (static_cast<int>(window_.size()) < std::max(rule_.at_least, 1) || lasted_s < rule_.for_s - 1e-9)
    return std::nullopt;

  settled_ = true;
  Indication indication;
  indication.quantity = reading.quantity;
  indication.state = reading.state;
  indication.beyond = reading.beyond;
  indication.readings = static_cast<int>(window_.size());
  indication.from = window_.front().at;
  indication.to = window_.back().at;
  for (const Reading& r : window_) {
    if (r.finite()) indication.value += r.value / static_cast<double>(window_.size());
    indication.resolution = std::max(indication.resolution, r.resolution);
    indication.flags.hold |= r.flags.hold;
    indication.flags.relative |= r.flags.relative;
    indication.flags.low_battery |= r.flags.low_battery;
    indication.flags.autorange |= r.flags.autorange;
    indication.flags.min_max |= r.flags.min_max;
  }
  if (reading.finite() && window_.size() > 1) {
    double squares = 0.0;
    for (const Reading& r : window_) squares += (r.value - indication.value) * (r.value - indication.value);
    indication.spread = std::sqrt(squares / static_cast<double>(window_.size() - 1));  // JCGM 100 4.2.2
  }
  return indication;
}

double Settler::progress() const {
  if (settled_) return 1.0;
  if (window_.empty()) return 0.0;
  const double lasted_s = seconds_between(window_.front().at.monotonic, window_.back().at.monotonic);
  const double by_time = rule_.for_s > 0.0 ? lasted_s / rule_.for_s : 1.0;
  const double by_count = static_cast<double>(window_.size()) / std::max(rule_.at_least, 1);
  return std::clamp(std::min(by_time, by_count), 0.0, 1.0);
}

}  // namespace switchwright
