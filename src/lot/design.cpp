#include "switchwright/lot/design.hpp"

#include <algorithm>
#include <cmath>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

constexpr long largest_sample = 100'000;

void check_share(double value, const char* what) {
  if (!(value > 0.0 && value < 1.0)) throw Error(ErrorKind::usage, std::string{what} + " must lie between 0 and 100 %");
}

/// A lot's whole number of units for a share: rounded to the side that makes the promise harder to keep.
double accepted(long n, int accept, OcModel model, double p, long lot_size, bool up) {
  const auto plan = StagedPlan::single(n, accept);
  if (model != OcModel::lot) return acceptance_probability(plan, model, p);
  const double units = p * static_cast<double>(lot_size);
  const double whole = up ? std::ceil(units - 1e-9) : std::floor(units + 1e-9);
  return acceptance_probability_of_lot(plan, lot_size, static_cast<long>(whole));
}

/// The smallest n in [from, to] that accepts with at most `chance`; to + 1 when none does. Acceptance falls with n.
template <class Accepted>
long first_at_most(long from, long to, double chance, const Accepted& accepted_with) {
  long above = from - 1, enough = to + 1;
  while (enough - above > 1) {
    const long middle = above + (enough - above) / 2;
    (accepted_with(middle) <= chance ? enough : above) = middle;
  }
  return enough;
}

}  // namespace

std::optional<StagedPlan> find_single_plan(const WantedRisks& wanted, OcModel model, long lot_size) {
  check_share(wanted.good_p, "the AQL");
  check_share(wanted.bad_p, "the LTPD");
  check_share(wanted.producers_risk, "the producer's risk");
  check_share(wanted.consumers_risk, "the consumer's risk");
  if (!(wanted.bad_p > wanted.good_p))
    throw Error(ErrorKind::usage, "the LTPD must be worse than the AQL: no plan tells equal lots apart");
  const long most = model == OcModel::lot ? lot_size : largest_sample;
  long n = 0;  // of the acceptance number tried last
  const auto keeps_both = [&](int accept) {
    n = first_at_most(accept + 1L, most, wanted.consumers_risk,
                      [&](long size) { return accepted(size, accept, model, wanted.bad_p, lot_size, true); });
    return n <= most && accepted(n, accept, model, wanted.good_p, lot_size, false) >= 1.0 - wanted.producers_risk;
  };
  // One by one while the numbers are small, where a plan may do by chance; then by doubling and halving: each further defective unit
  // that is allowed tells the two qualities apart better.
  constexpr int one_by_one = 64;
  for (int accept = 0; accept < std::min<long>(one_by_one, most); ++accept) {
    if (keeps_both(accept)) return StagedPlan::single(n, accept);
    if (n > most) return std::nullopt;
  }
  int below = one_by_one - 1, enough = 2 * one_by_one;
  while (enough < most && !keeps_both(enough)) {
    if (n > most) break;
    below = enough;
    enough *= 2;
  }
  if (enough >= most || n > most) enough = static_cast<int>(std::min<long>(enough, most));
  while (enough - below > 1) {
    const int middle = below + (enough - below) / 2;
    // What asks for more units than there are lies above the answer, if there is one.
    (keeps_both(middle) || n > most ? enough : below) = middle;
  }
  if (!keeps_both(enough)) return std::nullopt;
  return StagedPlan::single(n, enough);
}

StagedPlan zero_acceptance_plan(double bad_p, double consumers_risk, OcModel model, long lot_size) {
  check_share(bad_p, "the LTPD");
  check_share(consumers_risk, "the consumer's risk");
  const long most = model == OcModel::lot ? lot_size : 100'000'000L;
  const long n = first_at_most(1, most, consumers_risk,
                               [&](long size) { return accepted(size, 0, model, bad_p, lot_size, true); });
  return StagedPlan::single(std::min(n, most), 0);
}

}  // namespace switchwright
