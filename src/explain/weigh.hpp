// How well a scenario agrees with the readings. Internal to this room.
#pragma once

#include <cmath>
#include <limits>
#include <vector>

#include "explain/predictor.hpp"
#include "switchwright/explain/explain.hpp"

namespace switchwright {

/// One reading as a hypothesis meets it.
struct Datum {
  Place place;
  std::size_t position = 0;  ///< index in the profile
  std::size_t a = 0;         ///< node as probed
  std::size_t b = 0;
  bool finite = true;
  double ohm = 0.0;  ///< finite: leads subtracted
  double sigma =
      1.0;  ///< finite: standard uncertainty with the spread of good contacts; over-range: u at the range end
  /// Finite: standard uncertainty of this reading alone, and what it has in common with all readings of its range (the
  /// meter's error there, the leads); their squares add to the meter's own u squared.
  double own_u = 1.0;
  double shared_u = 0.0;
  std::size_t range = 0;   ///< finite: which range, counted from 0
  double beyond = 0.0;     ///< over-range: end of the range
  double untouched = 0.0;  ///< over-range: chance that a probe did not touch
  double stray = 1e-3;     ///< chance that the reading has nothing to do with the part

  /// Natural logarithm of the likelihood of this reading where the network has `predicted_ohm`:
  ///   finite      (1 - stray) N(ohm; predicted, sigma) + stray / (max(|ohm|, sigma) ln 1e10)
  ///   over-range  (1 - stray) [untouched + (1 - untouched) Phi((predicted - beyond) / sigma)] + stray / 2
  /// (a stray reading is anywhere on ten decades, or over-range half of the time).
  double log_likelihood(double predicted_ohm) const;
  /// The most that it can be where the prediction lies between these two, whatever the meter's error.
  double most_log_likelihood(double least_ohm, double most_ohm) const;
  /// The best that any prediction can reach.
  double best() const;
};

/// The readings that can be used, sorted by position.
std::vector<Datum> data_from(const std::vector<Finding>& findings, const Predictor& predictor,
                             const MeterDefinition& meter, const Leads& leads, const FaultPriors& priors);
/// How much a closed path of the usual kind is off its middle; for looks at a scenario that do not integrate.
inline const double contact_spread_ohm = most_joint_ohm / std::sqrt(12.0);

/// Values of a scenario's unknowns.
struct Fitted {
  double log_evidence = -std::numeric_limits<double>::infinity();
  std::vector<double> values;       ///< per unknown, ohm
  std::vector<double> sigmas;       ///< per unknown; infinite when no reading depends on it
  std::vector<double> contacts;     ///< per sound contact of the profile, ohm
  std::vector<std::size_t> strays;  ///< indices of readings that are more probably stray than predicted
};

/// A value of one unknown that some readings agree on.
struct FitCandidate {
  double ohm = 0.0;    ///< may be below 0: the nearest allowed value is meant
  double sigma = 0.0;  ///< standard uncertainty of the most precise of them
};

/// Quick looks at a scenario: can it be true at all, and where are its values?
class Weigher {
 public:
  explicit Weigher(const std::vector<Datum>& data);
  /// The logarithm of the marginal likelihood is below this, whatever the values: a pair resistance never falls when a
  /// resistor of the network rises (Rayleigh), so two networks bound each reading. Gives up below `least`.
  double most_log_evidence(const Predictor& predictor, const Scenario& scenario, double least) const;
  /// Logarithm of the likelihood at these values; gives up below `least` (the result is then only known to be
  /// below).
  double log_likelihood(const Scenario& scenario, const std::vector<Ohms>& networks, double least) const;
  /// The values of the unknowns that the readings ask for, sound contacts at their usual values; the
  /// likelihood there stands for log_evidence.
  Fitted located(const Scenario& scenario) const;

 private:
  /// The values of one unknown that the readings ask for, given the networks without it; at least one.
  std::vector<FitCandidate> asked_for(const Scenario& scenario, std::size_t unknown,
                                      const std::vector<Ohms>& without) const;
  /// Sets one unknown to the value that the readings ask for; returns the logarithm of the likelihood there.
  double improve(const Scenario& scenario, std::size_t unknown, Fitted& fit) const;

  const std::vector<Datum>* data_;
  std::vector<double> best_from_here_;  ///< suffix sums of Datum::best()
  std::vector<double> most_from_here_;  ///< suffix sums of the most that any network allows
};

}  // namespace switchwright
