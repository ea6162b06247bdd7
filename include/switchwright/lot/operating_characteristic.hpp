// What a sampling plan is worth: how often it accepts, what leaves the house, what it costs.
#pragma once

#include <optional>
#include <vector>

#include "switchwright/lot/plan.hpp"

namespace switchwright {

/// A single plan (n2 = 0) or a double one, in the numbers that decide.
struct StagedPlan {
  long n1 = 0;
  int accept1 = 0;
  int reject1 = 1;
  long n2 = 0;  ///< taken when the first count lies between accept1 and reject1
  int accept2 = 0;

  /// A lot is accepted below the rejection number: on reduced inspection also between the two numbers.
  static StagedPlan of(const SamplingPlan& plan);
  static StagedPlan of(const DoublePlan& plan);
  static StagedPlan single(long n, int accept) { return {n, accept, accept + 1, 0, 0}; }
};

/// Which chance a count in the sample follows.
enum class OcModel {
  lot,      ///< type A: units drawn without return from one lot (hypergeometric); p is defective / lot size
  process,  ///< type B: lots of a process (binomial); p is the share defective
  defects,  ///< defects per unit of a process (Poisson); p is defects per unit, may exceed 1
};

/// Chance that a lot is accepted. @param p 0 to 1 (defects: from 0). @param lot_size for OcModel::lot, where p * lot_size is rounded
/// to whole units.
double acceptance_probability(const StagedPlan& plan, OcModel model, double p, long lot_size = 0);
/// Type A for a whole number of defective units.
double acceptance_probability_of_lot(const StagedPlan& plan, long lot_size, long defective);

/// The quality that is accepted with probability `pa`, by bisection to the last digit; absent where the plan never gets there (a plan
/// that inspects the whole lot, `lot`: the largest share whose probability is still at least pa).
std::optional<double> quality_accepted_with(const StagedPlan& plan, OcModel model, double pa, long lot_size = 0);

/// Average sample number: units per lot, without curtailment.
double average_sample_number(const StagedPlan& plan, OcModel model, double p, long lot_size = 0);
/// Average total inspection, rejected lots sorted completely: n + (1 - Pa)(N - n) for a single plan.
double average_total_inspection(const StagedPlan& plan, OcModel model, double p, long lot_size);
/// Average outgoing quality, rejected lots sorted and defective units replaced: Pa p (N - n) / N for a single plan.
double average_outgoing_quality(const StagedPlan& plan, OcModel model, double p, long lot_size);
struct OutgoingLimit {
  double p = 0.0;         ///< incoming quality at which it is reached
  double outgoing = 0.0;  ///< AOQL
};
OutgoingLimit average_outgoing_quality_limit(const StagedPlan& plan, OcModel model, long lot_size);

struct OcPoint {
  double p = 0.0;
  double acceptance = 1.0;       ///< process (or defects)
  std::optional<double> of_lot;  ///< type A, at the nearest whole number of units, up to largest_lot_by_unit
  double outgoing = 0.0;
  double sample_number = 0.0;
  double total_inspection = 0.0;
};
/// A larger lot is as good as a process; counting its units one by one would only take long.
constexpr long largest_lot_by_unit = 100'000;

/// A curve from 0 to where it has come down to 0.5 %, `points` of them.
std::vector<OcPoint> oc_curve(const StagedPlan& plan, OcModel model, long lot_size, int points);
OcPoint oc_point(const StagedPlan& plan, OcModel model, long lot_size, double p);

}  // namespace switchwright
