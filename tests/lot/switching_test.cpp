// The switching rules of MIL-STD-105E 4.7 and 4.8: a letter per lot, A accepted, R rejected.
#include "switchwright/lot/switching.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <string>

#include "switchwright/core/error.hpp"
#include "switchwright/lot/curtailment.hpp"

using namespace switchwright;

namespace {

SwitchingAgreement agreement(bool reduced = false) {
  SwitchingAgreement a;
  a.production_steady = a.reduced_is_desired = reduced;
  return a;
}

SwitchingState after(const std::string& lots, const SwitchingAgreement& a = agreement(), SwitchingState state = {}) {
  for (const char c : lots) {
    InspectedLot lot;
    lot.accepted = c == 'A' || c == 'b';
    lot.between_numbers = c == 'b';
    state = after_lot(state, lot, a);
  }
  return state;
}

SwitchingState tightened() { return after("RR"); }

/// Binomial, by its definition: independent of the code under test.
double acceptance(double p, int most) {
  double term = std::pow(1.0 - p, 200), sum = term;
  for (int k = 1; k <= most; ++k) sum += term *= (200.0 - k + 1.0) / k * p / (1.0 - p);
  return sum;
}

}  // namespace

TEST_CASE("two of five or fewer consecutive lots rejected: tightened inspection (4.7.1)") {
  for (const char* lots : {"RR", "RAR", "RAAR", "RAAAR", "AARAAAR", "RAAAARAR"}) {
    INFO(lots);
    CHECK(after(lots).mode == InspectionMode::tightened);
    CHECK_FALSE(after(lots).reason.empty());
  }
  for (const char* lots : {"R", "RAAAAR", "AAAA", "RAAAARAAAAR"}) {
    INFO(lots);
    CHECK(after(lots).mode == InspectionMode::normal);
  }
}

TEST_CASE("five consecutive lots accepted on tightened inspection: normal again (4.7.2)") {
  CHECK(after("AAAA", agreement(), tightened()).mode == InspectionMode::tightened);
  CHECK(after("AAAAA", agreement(), tightened()).mode == InspectionMode::normal);
  CHECK(after("AAAARAAAA", agreement(), tightened()).mode == InspectionMode::tightened);
  CHECK(after("AAAARAAAAA", agreement(), tightened()).mode == InspectionMode::normal);
}

TEST_CASE("rejections before a change of mode do not count after it") {
  CHECK(after("AAAAAR", agreement(), tightened()).mode == InspectionMode::normal);
  CHECK(after("AAAAARR", agreement(), tightened()).mode == InspectionMode::tightened);
}

TEST_CASE(
    "five lots rejected on tightened inspection, accepted ones between them or not: acceptance is discontinued (4.8)") {
  CHECK_FALSE(after("RRRR", agreement(), tightened()).discontinued);
  CHECK(after("RRRRR", agreement(), tightened()).discontinued);
  CHECK(after("RARAARAAAARAAR", agreement(), tightened()).discontinued);
  const SwitchingState stopped = after("RRRRR", agreement(), tightened());
  CHECK(after("AAAAAAAAAAAA", agreement(), stopped).discontinued);  // nothing but corrective action helps
  const SwitchingState again = after_corrective_action(stopped);
  CHECK_FALSE(again.discontinued);
  CHECK(again.mode == InspectionMode::tightened);
  CHECK_FALSE(after("RRRR", agreement(), again).discontinued);
}

TEST_CASE("resubmitted lots are ignored") {
  InspectedLot again;
  again.accepted = false;
  again.original = false;
  SwitchingState state = after("R");
  state = after_lot(state, again, agreement());
  CHECK(state.mode == InspectionMode::normal);
  CHECK(after("AAAR", agreement(), state).mode == InspectionMode::tightened);
}

TEST_CASE("reduced inspection needs ten lots, the limit number, steady production and the wish for it (4.7.3)") {
  SwitchingAgreement a = agreement(true);
  CHECK(after("AAAAAAAAAA", a).mode == InspectionMode::normal);  // no limit number was agreed
  a.limit_number = 3;
  CHECK(after("AAAAAAAAA", a).mode == InspectionMode::normal);
  CHECK(after("AAAAAAAAAA", a).mode == InspectionMode::reduced);
  CHECK(after("RAAAAAAAAA", a).mode == InspectionMode::normal);
  CHECK(after("RAAAAAAAAAA", a).mode == InspectionMode::reduced);
  SwitchingAgreement unsteady = a, unwanted = a, waived = agreement(true);
  unsteady.production_steady = false;
  unwanted.reduced_is_desired = false;
  waived.limit_waived = true;  // ANSI/ASQ Z1.4 8.5
  CHECK(after("AAAAAAAAAA", unsteady).mode == InspectionMode::normal);
  CHECK(after("AAAAAAAAAA", unwanted).mode == InspectionMode::normal);
  CHECK(after("AAAAAAAAAA", waived).mode == InspectionMode::reduced);
}

TEST_CASE("the limit number is set against the samples of the last ten lots") {
  SwitchingAgreement a = agreement(true);
  a.limit_number = 3;
  SwitchingState state;
  InspectedLot lot;
  lot.defective = 4;
  state = after_lot(state, lot, a);
  lot.defective = 0;
  for (int i = 0; i < 9; ++i) state = after_lot(state, lot, a);
  CHECK(state.mode == InspectionMode::normal);  // four in the last ten
  state = after_lot(state, lot, a);             // the first one is out of the ten
  CHECK(state.mode == InspectionMode::reduced);
}

TEST_CASE("reduced inspection ends with a rejection, a count between the numbers, or unsteady production (4.7.4)") {
  SwitchingAgreement a = agreement(true);
  a.limit_waived = true;
  const SwitchingState reduced = after("AAAAAAAAAA", a);
  REQUIRE(reduced.mode == InspectionMode::reduced);
  CHECK(after("AAAAAAAA", a, reduced).mode == InspectionMode::reduced);
  CHECK(after("R", a, reduced).mode == InspectionMode::normal);
  CHECK(after("b", a, reduced).mode == InspectionMode::normal);
  SwitchingAgreement unsteady = a;
  unsteady.production_steady = false;
  CHECK(after("A", unsteady, reduced).mode == InspectionMode::normal);
  CHECK(after_irregular_production(reduced, "the line was moved").mode == InspectionMode::normal);
  CHECK(after_irregular_production(tightened(), "the line was moved").mode == InspectionMode::tightened);
}

TEST_CASE("a lot inspected more weakly than the rules asked for cannot help the supplier") {
  InspectedLot lot;
  lot.inspected = InspectionMode::normal;
  SwitchingState state = tightened();
  for (int i = 0; i < 6; ++i) state = after_lot(state, lot, agreement());
  CHECK(state.mode == InspectionMode::tightened);
  lot.accepted = false;
  for (int i = 0; i < 5; ++i) state = after_lot(state, lot, agreement());
  CHECK(state.discontinued);
}

TEST_CASE("ten thousand lots through the rules are accepted as often as the published formula says") {
  // Stephens and Larson 1967, plans 200/7 and 200/5: published .95 at p = .019296 and .10 at p = .045884; calc .95054 and .09995.
  SwitchingAgreement a = agreement();
  a.discontinue_after = 0;  // as the formula has it
  for (const double p : {0.019296, 0.03, 0.045884}) {
    const double pn = acceptance(p, 7), pt = acceptance(p, 5);
    const double wanted = scheme_acceptance(pn, pt);
    if (p == 0.019296) CHECK(std::abs(wanted - 0.95054) < 2e-5);
    if (p == 0.045884) CHECK(std::abs(wanted - 0.09995) < 2e-5);
    std::mt19937_64 random{20260301};
    std::binomial_distribution<int> count(200, p);
    SwitchingState state;
    int accepted = 0;
    constexpr int lots = 10000;
    for (int i = 0; i < lots; ++i) {
      const int defective = count(random);
      InspectedLot lot;
      lot.accepted = defective <= (state.mode == InspectionMode::normal ? 7 : 5);
      lot.defective = defective;
      accepted += lot.accepted;
      state = after_lot(state, lot, a);
    }
    // Neighbouring lots hang together through the mode: five times the deviation of independent ones is ample.
    INFO("p " << p << " accepted " << accepted << " wanted " << wanted);
    CHECK(std::abs(accepted / static_cast<double>(lots) - wanted) < 5.0 * std::sqrt(wanted * (1 - wanted) / lots));
  }
}

TEST_CASE("rejection is certain at the rejection number, acceptance when it cannot be reached any more") {
  Curtailment c = curtailment({50, 2, 3, 10, 2, 0});
  CHECK_FALSE(c.rejection_certain);
  CHECK(c.may_still_fail == 0);
  c = curtailment({50, 2, 3, 11, 3, 0});
  CHECK(c.rejection_certain);
  c = curtailment({50, 2, 3, 48, 0, 0});
  CHECK(c.acceptance_certain);
  c = curtailment({50, 2, 3, 47, 0, 0});
  CHECK_FALSE(c.acceptance_certain);
  CHECK(c.may_still_fail == 2);
}

TEST_CASE("open units count as defective until they are decided") {
  CHECK_FALSE(curtailment({50, 2, 3, 47, 0, 3}).acceptance_certain);
  CHECK(curtailment({50, 2, 3, 48, 0, 2}).acceptance_certain);
  CHECK_FALSE(curtailment({50, 2, 3, 47, 2, 3}).rejection_certain);
}

TEST_CASE("reduced inspection: between the numbers the lot is accepted") {
  const Curtailment c = curtailment({50, 1, 3, 50, 2, 0});
  CHECK(c.acceptance_certain);
  CHECK(c.between_numbers);
}

TEST_CASE("counts that contradict each other are refused") {
  CHECK_THROWS_AS(curtailment({50, 2, 3, 51, 0, 0}), Error);
  CHECK_THROWS_AS(curtailment({50, 2, 3, 10, 11, 0}), Error);
  CHECK_THROWS_AS(curtailment({50, 2, 2, 10, 0, 0}), Error);
  CHECK_THROWS_AS(curtailment({50, 2, 3, 49, 0, 2}), Error);
}
