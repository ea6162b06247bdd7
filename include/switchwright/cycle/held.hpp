// Does the display stand still between its updates? A meter that is asked ten times a second but measures twice a
// second gives every value five times over, and its edges are known to half a second, not to a tenth.
//
// Two signs, each from the instants at which the value changes:
//   flicker  on a plateau the last digit flickers only when the display is updated: the times between such changes
//            have a shortest length, longer than the sampling, and most of them have it
//   grid     every change, edges included, falls on every m-th sample. When the times between them differ among
//            themselves, chance does not do that. When they are all alike it proves nothing, but nothing is known
//            against it either: then the grid counts up to what displays commonly need (half a second).
#pragma once

#include <array>
#include <cstdint>

#include "switchwright/cycle/timeline.hpp"

namespace switchwright {

/// Constant memory. Thread rule: one thread at a time.
class HeldDisplay {
 public:
  /// The next sample: its time, the interval before it, and whether its value differs from the one before.
  /// @param small the difference is flicker and no edge
  void take(double t_s, double dt_s, bool changed, bool small) {
    if (dt_s > 0.0) count(dt_s);
    if (changed) change(t_s, small);
  }
  /// One update lasts so long, s; 0 when nothing says that it is longer than `interval_s`, the sampling.
  double update_s(double interval_s) const;

 private:
  void count(double dt_s) {
    ++index_;
    if (step_s_ == 0.0) step_s_ = dt_s;
    const double off_s = dt_s - step_s_;
    if (off_s > 0.25 * step_s_ || off_s < -0.25 * step_s_) follows_ = false;  // the samples in between are not counted
  }
  void change(double t_s, bool small);
  double grid_s(double interval_s) const;

  Intervals flicker_;
  double last_change_s_ = 0.0;
  bool last_small_ = false;

  double step_s_ = 0.0;      ///< the first interval; the others are to be like it
  std::uint64_t index_ = 0;  ///< of the sample
  std::uint64_t last_index_ = 0;
  bool follows_ = false;    ///< no odd interval since the last change
  std::uint64_t grid_ = 0;  ///< greatest common divisor of the samples between changes; 0: none yet
  std::uint64_t distances_ = 0;
  std::array<std::uint64_t, 6> different_{};  ///< distances that differ from each other, the first few
};

}  // namespace switchwright
