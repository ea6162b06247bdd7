// A histogram of values whose range nobody knows beforehand, in constant memory.
//
// Problem: a stream may hold a level of 0.3, another of 2000 and one corrupt value of 1e9. Bins laid between
// minimum and maximum would be useless. Here bins of equal width exist only where values fall (a hash of at
// most `max_bins`); when they run out, the width doubles and neighbours merge. One stray value costs one bin.
//
// The grid hangs on the first value and its width on the first step, so scaling or shifting a series scales
// or shifts its histogram.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace switchwright {

class AdaptiveHistogram {
 public:
  struct Bin {
    double value = 0.0;         ///< mean of what fell in
    std::uint64_t count = 0;    ///< everything that fell in
    std::uint64_t steady = 0;   ///< the part added as steady
    std::uint64_t settled = 0;  ///< the weight added as settled
  };

  explicit AdaptiveHistogram(std::size_t max_bins = 4096);

  /// Adds a finite value of magnitude below 1e30.
  void add(double value, unsigned steady = 0, unsigned settled = 0) {
    Slot& slot = slot_for(value, true);
    slot.count += 1;
    slot.steady += steady;
    slot.settled += settled;
  }
  /// Says afterwards that a value belongs to a plateau.
  void add_steady(double value) { slot_for(value, false).steady += 1; }

  std::uint64_t total() const { return total_; }
  /// Width of a bin, 0 while all values are equal. No value is farther than this from its bin's value.
  double bin_width() const { return width_; }
  /// Ascending.
  std::vector<Bin> bins() const;
  /// Quantile p in [0, 1] within one bin width; nothing when empty.
  std::optional<double> quantile(double p) const;

 private:
  struct Slot {
    std::int64_t key = 0;
    std::uint64_t count = 0;  ///< this and steady 0: empty
    std::uint64_t steady = 0;
    std::uint64_t settled = 0;
    double sum = 0.0;  ///< of (value - origin)
    bool used() const { return count != 0 || steady != 0; }
  };
  Slot& slot_for(double value, bool counted);
  Slot& find(std::int64_t key);
  void coarsen();
  void grow();

  std::size_t max_bins_;
  std::size_t mask_;
  std::vector<Slot> slots_;
  std::size_t used_ = 0;
  std::uint64_t total_ = 0;
  bool started_ = false;
  double origin_ = 0.0;
  double width_ = 0.0;
  double per_width_ = 0.0;
  std::int64_t last_key_ = 0;
  Slot* last_ = nullptr;
};

}  // namespace switchwright
