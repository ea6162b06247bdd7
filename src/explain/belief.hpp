// What is known of several values at once: a normal distribution that readings make narrower. Internal to this room.
//
// A reading that depends on the values by known slopes, with a normal error, changes a normal distribution into
// another one exactly (linear regression, one reading at a time). A value that may be anywhere between two limits
// is no normal distribution: it begins as the one with the same mean and variance, and at the end the limits are
// put in its place (confine), which corrects the probability of the readings and the values together (moments of
// the truncated normal distribution; the others follow by their covariance).
#pragma once

#include <cstddef>
#include <vector>

namespace switchwright {

class Belief {
 public:
  /// One value that a reading depends on: change of the reading per unit of the value.
  struct Slope {
    std::size_t value = 0;
    double by = 0.0;
  };

  explicit Belief(std::size_t values);
  std::size_t size() const { return mean_.size(); }
  /// Begins a value as independent of all others. @param variance 0: it is known.
  void begin(std::size_t value, double mean, double variance);
  double mean(std::size_t value) const { return mean_[value]; }
  double variance(std::size_t value) const { return covariance_[value * size() + value]; }
  /// A reading has narrowed this value.
  bool narrowed(std::size_t value) const;

  /// Variance of a quantity with these slopes.
  double variance_of(const std::vector<Slope>& slopes) const;
  /// Takes in a reading that lies `innovation` above what the means predict and has `own_variance` of its own.
  void absorb(const std::vector<Slope>& slopes, double innovation, double own_variance);
  /// Puts the limits of a value that may be anywhere between `least` and `most` in place of the normal distribution
  /// it began with (which had their mean and variance). Returns the natural logarithm of the factor by which that
  /// changes the probability of all readings absorbed so far; never below -most_refusal.
  double confine(std::size_t value, double least, double most);
  static constexpr double most_refusal = 60.0;

 private:
  std::vector<double> mean_, covariance_, first_mean_, first_variance_;
  std::vector<double> gain_;  ///< of the reading that is being absorbed; kept, so that no reading costs an allocation
};

}  // namespace switchwright
