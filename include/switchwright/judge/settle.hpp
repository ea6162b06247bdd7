// Decides when a reading has settled. Pure: time comes with the readings.
#pragma once

#include <deque>
#include <optional>
#include <string>

#include "switchwright/core/reading.hpp"
#include "switchwright/judge/indication.hpp"

namespace switchwright {

struct SettleRule {
  double for_s = 0.6;        ///< they agree for at least this long
  int at_least = 3;          ///< and there are at least this many
  double within_digits = 2;  ///< agreement: largest minus smallest, in digits of the display (the coarsest seen)
  /// Resistance is never asked to agree more closely than this: probe pressure alone moves a reading by some
  /// 10 mohm (common practice, no source), and a fine meter held by hand would never settle.
  double floor_ohm = 0.02;
  /// Nor are volts asked to agree more closely than what is decided about them needs: so many volts, or this share of
  /// the value. Mains sways by more than two digits of a fine display. 0: the display alone.
  double floor_v = 0.0;
  double share_v = 0.0;

  /// How far apart readings of one indication may be.
  double tolerance(Quantity quantity, double value, double digit) const;
};

/// Why a reading cannot be used, in one plain sentence with the next step; empty when it can.
std::string refusal(const Reading& reading, Quantity wanted);

class Settler {
 public:
  Settler(SettleRule rule, Quantity wanted);
  /// Takes the next reading. Returns the indication once, when the rule is first met; then goes on watching
  /// and returns again only after reset(). Readings refused by refusal() restart the wait.
  std::optional<Indication> feed(const Reading& reading);
  void reset();
  /// How far along, in [0, 1], for a progress mark.
  double progress() const;

 private:
  SettleRule rule_;
  Quantity wanted_;
  std::deque<Reading> window_;
  bool settled_ = false;
};

}  // namespace switchwright
