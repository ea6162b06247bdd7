// One figure of a series against its limits: the mean, every cycle, and what the spread says of the next one.
#pragma once

#include <optional>
#include <string>

#include "switchwright/judge/timing.hpp"

namespace switchwright::timing {

/// A figure with its expanded uncertainty.
struct Value {
  double value = 0.0;
  double U = 0.0;
};

/// How the conditions of the record are carried over to the rated ones.
class AtRated {
 public:
  explicit AtRated(const TimingConditions& conditions);
  /// Heat here over heat at rated conditions; nothing when either is not known.
  const std::optional<double>& ratio() const { return ratio_; }
  /// The conditions are known, and are not the rated ones to the last digit.
  bool carries() const { return ratio_ && (*ratio_ != 1.0 || relative_U_ > 0.0); }
  /// A duty at rated conditions, not limited to 1; the supply's own U goes along.
  Value duty(const Value& measured) const;
  /// What an on time of `on_s` at rated conditions is here, beside the off time `off_s`; infinite when the contact
  /// would never open here.
  double on_here_s(double on_s, double off_s) const;

 private:
  std::optional<double> ratio_;
  double relative_U_ = 0.0;  ///< of the ratio
};

/// What is judged of one quantity.
struct Judged {
  const char* quantity;   ///< "on time"
  const char* unit;       ///< "s", or "" for duty
  Value mean;             ///< at rated conditions when `at_rated`
  double measured = 0.0;  ///< the mean as measured
  bool at_rated = false;
  const Figure* figure = nullptr;  ///< of the cycles, as measured
  Interval limits;                 ///< at rated conditions
  Interval limits_here;            ///< what they amount to at the conditions of the record
  double U_of_one = 0.0;           ///< expanded uncertainty of one cycle's value
  std::uint64_t cycles = 0;
};
TimingFinding finding_for(const Judged& judged, bool guarded);

/// Duty goes as a fraction in figures and as percent in words.
std::string number(double value, const std::string& unit);
std::string words(const Interval& limits, const std::string& unit);

}  // namespace switchwright::timing
