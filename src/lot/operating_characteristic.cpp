#include "switchwright/lot/operating_characteristic.hpp"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/hypergeometric.hpp>
#include <boost/math/distributions/poisson.hpp>
#include <cmath>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

namespace bm = boost::math;

/// The count of defective units in a sample: its chance to be at most k, and to be k. The lot is used up as units are drawn.
class Count {
 public:
  Count(OcModel model, double p, long lot_size, long defective)
      : model_(model), p_(p), lot_size_(lot_size), defective_(defective) {}

  double at_most(long n, long k) const {
    if (k < 0) return 0.0;
    if (model_ == OcModel::defects) return p_ == 0.0 ? 1.0 : bm::cdf(bm::poisson{static_cast<double>(n) * p_}, k);
    if (k >= n) return 1.0;
    if (model_ == OcModel::process) return bm::cdf(bm::binomial{static_cast<double>(n), p_}, k);
    if (k >= most(n)) return 1.0;
    if (k < least(n)) return 0.0;
    return bm::cdf(hypergeometric(n), k);
  }
  double exactly(long n, long k) const {
    if (k < 0) return 0.0;
    if (model_ == OcModel::defects)
      return p_ == 0.0 ? (k == 0 ? 1.0 : 0.0) : bm::pdf(bm::poisson{static_cast<double>(n) * p_}, k);
    if (k > n) return 0.0;
    if (model_ == OcModel::process) return bm::pdf(bm::binomial{static_cast<double>(n), p_}, k);
    if (k > most(n) || k < least(n)) return 0.0;
    return bm::pdf(hypergeometric(n), k);
  }
  /// What is left when n units with k defective ones have been taken.
  Count after(long n, long k) const {
    return model_ == OcModel::lot ? Count{model_, p_, lot_size_ - n, defective_ - k} : *this;
  }

 private:
  long most(long n) const { return std::min(n, defective_); }
  long least(long n) const { return std::max(0L, n + defective_ - lot_size_); }
  bm::hypergeometric hypergeometric(long n) const {
    return {static_cast<unsigned>(defective_), static_cast<unsigned>(n), static_cast<unsigned>(lot_size_)};
  }

  OcModel model_;
  double p_;
  long lot_size_, defective_;
};

void check(const StagedPlan& plan, OcModel model, double p, long lot_size) {
  const bool too_much = model != OcModel::defects && p > 1.0;
  if (!(p >= 0.0) || !std::isfinite(p) || too_much)
    throw Error(ErrorKind::usage, "a share defective lies between 0 and 1");
  if (model == OcModel::lot && lot_size < plan.n1 + plan.n2)
    throw Error(ErrorKind::usage, "the sample is larger than the lot");
}

Count count_of(const StagedPlan& plan, OcModel model, double p, long lot_size) {
  check(plan, model, p, lot_size);
  return {model, p, lot_size, std::lround(p * static_cast<double>(lot_size))};
}

struct Stages {
  double accept1 = 0.0, accept2 = 0.0,
         second = 0.0;  ///< chances: accepted after the first, after the second; second taken
};

Stages stages(const StagedPlan& plan, const Count& count) {
  Stages s;
  s.accept1 = count.at_most(plan.n1, plan.accept1);
  if (plan.n2 == 0) return s;
  for (long k = plan.accept1 + 1; k < plan.reject1; ++k) {
    const double chance = count.exactly(plan.n1, k);
    s.second += chance;
    if (chance > 0.0) s.accept2 += chance * count.after(plan.n1, k).at_most(plan.n2, plan.accept2 - k);
  }
  return s;
}

double acceptance(const StagedPlan& plan, const Count& count) {
  const Stages s = stages(plan, count);
  return std::clamp(s.accept1 + s.accept2, 0.0, 1.0);
}

}  // namespace

StagedPlan StagedPlan::of(const SamplingPlan& plan) { return single(plan.sample_size, plan.reject - 1); }
StagedPlan StagedPlan::of(const DoublePlan& plan) {
  return {plan.sample_size, plan.accept1, plan.reject1, plan.sample_size, plan.accept2};
}

double acceptance_probability(const StagedPlan& plan, OcModel model, double p, long lot_size) {
  return acceptance(plan, count_of(plan, model, p, lot_size));
}

double acceptance_probability_of_lot(const StagedPlan& plan, long lot_size, long defective) {
  if (defective < 0 || defective > lot_size)
    throw Error(ErrorKind::usage, "a lot has between none and all of its units defective");
  check(plan, OcModel::lot, 0.0, lot_size);
  return acceptance(plan, Count{OcModel::lot, 0.0, lot_size, defective});
}

std::optional<double> quality_accepted_with(const StagedPlan& plan, OcModel model, double pa, long lot_size) {
  if (model == OcModel::lot) {
    long still = 0, no_more = lot_size + 1;
    while (no_more - still > 1) {
      const long middle = still + (no_more - still) / 2;
      (acceptance_probability_of_lot(plan, lot_size, middle) >= pa ? still : no_more) = middle;
    }
    return static_cast<double>(still) / static_cast<double>(lot_size);
  }
  double still = 0.0, no_more = 1.0;
  while (acceptance_probability(plan, model, no_more) > pa) {
    if (model == OcModel::process) return std::nullopt;
    no_more *= 2.0;
  }
  while (true) {
    const double middle = 0.5 * (still + no_more);
    if (middle <= still || middle >= no_more) return middle;
    (acceptance_probability(plan, model, middle) > pa ? still : no_more) = middle;
  }
}

double average_sample_number(const StagedPlan& plan, OcModel model, double p, long lot_size) {
  const Stages s = stages(plan, count_of(plan, model, p, lot_size));
  return static_cast<double>(plan.n1) + s.second * static_cast<double>(plan.n2);
}

double average_total_inspection(const StagedPlan& plan, OcModel model, double p, long lot_size) {
  const Stages s = stages(plan, count_of(plan, model, p, lot_size));
  const auto all = static_cast<double>(lot_size), n1 = static_cast<double>(plan.n1),
             n12 = static_cast<double>(plan.n1 + plan.n2);
  return s.accept1 * n1 + s.accept2 * n12 + (1.0 - s.accept1 - s.accept2) * all;
}

double average_outgoing_quality(const StagedPlan& plan, OcModel model, double p, long lot_size) {
  const Stages s = stages(plan, count_of(plan, model, p, lot_size));
  const auto all = static_cast<double>(lot_size), n1 = static_cast<double>(plan.n1),
             n12 = static_cast<double>(plan.n1 + plan.n2);
  return p * (s.accept1 * std::max(all - n1, 0.0) + s.accept2 * std::max(all - n12, 0.0)) / all;
}

OutgoingLimit average_outgoing_quality_limit(const StagedPlan& plan, OcModel model, long lot_size) {
  if (plan.n1 >= lot_size) return {};
  const double end = quality_accepted_with(plan, model == OcModel::lot ? OcModel::process : model, 1e-4).value_or(1.0);
  if (model == OcModel::lot) {
    OutgoingLimit best;
    for (long d = 1; d <= lot_size; ++d) {
      const double p = static_cast<double>(d) / static_cast<double>(lot_size);
      const double outgoing = average_outgoing_quality(plan, model, p, lot_size);
      if (outgoing > best.outgoing) best = {p, outgoing};
      if (p > end && outgoing < 0.5 * best.outgoing) break;
    }
    return best;
  }
  // One hump: a grid finds it, thirds narrow it down.
  constexpr int grid = 400;
  int top = 1;
  const auto outgoing_at = [&](double p) { return average_outgoing_quality(plan, model, p, lot_size); };
  for (int i = 1; i <= grid; ++i)
    if (outgoing_at(end * i / grid) > outgoing_at(end * top / grid)) top = i;
  double from = end * (top - 1) / grid, to = end * std::min(top + 1, grid) / grid;
  for (int i = 0; i < 100; ++i) {
    const double a = from + (to - from) / 3.0, b = to - (to - from) / 3.0;
    (outgoing_at(a) < outgoing_at(b) ? from : to) = outgoing_at(a) < outgoing_at(b) ? a : b;
  }
  return {0.5 * (from + to), outgoing_at(0.5 * (from + to))};
}

OcPoint oc_point(const StagedPlan& plan, OcModel model, long lot_size, double p) {
  OcPoint point;
  point.p = p;
  point.acceptance = acceptance_probability(plan, model, p, lot_size);
  if (model == OcModel::process && lot_size >= plan.n1 + plan.n2 && lot_size <= largest_lot_by_unit)
    point.of_lot = acceptance_probability_of_lot(plan, lot_size, std::lround(p * static_cast<double>(lot_size)));
  point.outgoing = average_outgoing_quality(plan, model, p, lot_size);
  point.sample_number = average_sample_number(plan, model, p, lot_size);
  point.total_inspection = average_total_inspection(plan, model, p, lot_size);
  return point;
}

std::vector<OcPoint> oc_curve(const StagedPlan& plan, OcModel model, long lot_size, int points) {
  const double end = quality_accepted_with(plan, model, 0.005, lot_size).value_or(1.0);
  std::vector<OcPoint> curve;
  for (int i = 0; i < points; ++i) curve.push_back(oc_point(plan, model, lot_size, end * i / std::max(points - 1, 1)));
  return curve;
}

}  // namespace switchwright
