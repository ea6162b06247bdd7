// Judging cycle timing: the thermal check table, voltage, fault words, decision rule.
#include "switchwright/judge/timing.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "cycle/series.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;
using namespace switchwright::testing;

namespace {

bool has(const TimingJudgement& judgement, TimingFault fault) {
  for (const auto& f : judgement.faults)
    if (f.fault == fault) return true;
  return false;
}

bool remarks_on(const TimingJudgement& judgement, const std::string& text) {
  for (const std::string& remark : judgement.remarks)
    if (remark.find(text) != std::string::npos) return true;
  return false;
}

CycleSummary measured(int cycles, double on_s, double off_s, double interval_s = 0.02) {
  return analyze(sampled(cycling(cycles, on_s, off_s), interval_s));
}

}  // namespace

TEST_CASE("first-order switching times agree with the thermal check table") {
  // t_on = tau ln((Tinf - Tlo) / (Tinf - Thi)); t_off = tau ln(Thi / Tlo), all above ambient. First row: the
  // RC relaxation oscillator between one and two thirds of supply, 0.693 tau (published for the 555 timer);
  // the others computed by hand from the same law for a 30 s bimetal heated to 200 K at 240 V, so 150.22 K at
  // 208 V.
  struct Row {
    double tau_s, toward, low, high, on_s, off_s, period_s, duty;
  };
  const Row rows[] = {
      {1, 1, 1.0 / 3, 2.0 / 3, 0.693147, 0.693147, 1.386294, 0.5000},
      {30, 200, 75, 85, 2.501, 3.755, 6.256, 0.3998},
      {30, 150.22, 75, 85, 4.279, 3.755, 8.034, 0.5326},
      {30, 200, 45, 55, 2.001, 6.020, 8.021, 0.2494},
      {30, 200, 115, 125, 3.755, 2.501, 6.256, 0.6002},
      {30, 150.22, 115, 125, 10.019, 2.501, 12.520, 0.8002},
  };
  for (const Row& row : rows) {
    CAPTURE(row.on_s);
    const double on_s = *thermal_time_s(row.tau_s, row.toward, row.low, row.high);
    const double off_s = *thermal_time_s(row.tau_s, 0.0, row.high, row.low);
    CHECK(on_s == doctest::Approx(row.on_s).epsilon(3e-4));
    CHECK(off_s == doctest::Approx(row.off_s).epsilon(3e-4));
    CHECK(on_s + off_s == doctest::Approx(row.period_s).epsilon(3e-4));
    CHECK(on_s / (on_s + off_s) == doctest::Approx(row.duty).epsilon(4e-4));
  }
  // 120 V on a 240 V heater is a rise of 50 K: it never opens at 75 to 85 K.
  CHECK_FALSE(thermal_time_s(30, 50, 75, 85));
}

TEST_CASE("a 240 V part on 208 V shows its 240 V duty once carried over") {
  // Thermal check table: 4.279 s on, 3.755 s off at 208 V; 0.5326 x 0.7511 = 0.4000, the 240 V duty;
  // period 6.256 s at 240 V.
  CHECK(duty_at_rated_voltage(0.5326, 208, 240) == doctest::Approx(0.4000).epsilon(3e-4));
  CHECK_THROWS_AS(duty_at_rated_voltage(0.5, 0, 240), Error);
  const CycleSummary summary = measured(60, 4.279, 3.755);
  TimingLimits limits;
  limits.duty = Interval{0.38, 0.42};
  limits.period_s = Interval{6.0, 6.5};
  TimingConditions conditions;
  conditions.heater = HeaterKind::shunt;
  conditions.rated_voltage_v = 240;
  conditions.measured_voltage_v = 208;
  const TimingJudgement judgement = judge_timing(summary, limits, conditions);
  CHECK(to_string(judgement.outcome) == "pass");
  CHECK(*judgement.duty_at_rated == doctest::Approx(0.4000).epsilon(0.002));
  for (const TimingFinding& finding : judgement.findings)
    if (finding.quantity == "period") CHECK(finding.value == doctest::Approx(6.256).epsilon(0.002));
  CHECK_FALSE(judgement.saturated);
}

TEST_CASE("times that fit another rated voltage name it") {
  // A 208 V part reaches 200 K at 208 V: on 240 V it heats to 200 (240/208)^2 K, so duty falls by 0.7511.
  const double on_s = *thermal_time_s(30, 200 * std::pow(240.0 / 208, 2), 75, 85);
  const CycleSummary summary = measured(60, on_s, 3.755);
  TimingLimits limits;
  limits.duty = Interval{0.38, 0.42};
  TimingConditions conditions;
  conditions.heater = HeaterKind::shunt;
  conditions.rated_voltage_v = 240;
  conditions.measured_voltage_v = 240;
  const TimingJudgement judgement = judge_timing(summary, limits, conditions);
  CHECK(to_string(judgement.outcome) == "fail");
  CHECK(remarks_on(judgement, "made for 208 V"));
}

TEST_CASE("a duty carried beyond one is said to be saturated") {
  const CycleSummary summary = measured(40, 9, 1);
  TimingLimits limits;
  limits.duty = Interval{0.6, 0.8};
  limits.period_s = Interval{5, 20};
  TimingConditions conditions{.rated_voltage_v = 208, .measured_voltage_v = 240, .heater = HeaterKind::shunt};
  const TimingJudgement judgement = judge_timing(summary, limits, conditions);
  CHECK(judgement.saturated);
  CHECK(*judgement.duty_at_rated == 1.0);
  CHECK(remarks_on(judgement, "would reach 1"));
}

TEST_CASE("a low supply that saturates a good part proves nothing") {
  const CycleSummary summary = analyze(sampled({{3600, 208}}, 0.5));
  TimingLimits limits;
  limits.duty = Interval{0.7, 0.8};
  TimingConditions conditions{.rated_voltage_v = 240, .measured_voltage_v = 208, .heater = HeaterKind::shunt};
  const TimingJudgement judgement = judge_timing(summary, limits, conditions);
  CHECK(to_string(judgement.outcome) == "undecided");
  CHECK(judgement.saturated);
  CHECK_FALSE(has(judgement, TimingFault::never_opens));
}

TEST_CASE("the decision rule decides near a limit") {
  // 8 s on, 12 s off, sampled every 0.5 s: u(on) = 0.5 / sqrt(6) = 0.204 s (reference: each edge
  // rectangular), U = 0.41 s.
  const CycleSummary summary = measured(40, 8, 12, 0.5);
  CHECK(*summary.all.on_s.U == doctest::Approx(2 * 0.5 / std::sqrt(6.0)).epsilon(0.01));
  struct Row {
    double max_s;
    bool guarded;
    const char* outcome;
  };
  for (const Row& row : {Row{9.0, true, "pass"}, Row{8.2, true, "undecided"}, Row{7.8, true, "undecided"},
                         Row{7.0, true, "fail"}, Row{8.2, false, "pass"}, Row{7.8, false, "fail"}}) {
    CAPTURE(row.max_s);
    CAPTURE(row.guarded);
    TimingLimits limits;
    limits.on_s = Interval{1.0, row.max_s};
    TimingConditions conditions;
    conditions.guarded = row.guarded;
    CHECK(to_string(judge_timing(summary, limits, conditions).outcome) == row.outcome);
  }
}

TEST_CASE("fault words follow from what the contact did") {
  TimingLimits limits;
  limits.period_s = Interval{10, 30};
  limits.duty = Interval{0.3, 0.5};
  TimingConditions standing;
  standing.cycling_expected = false;
  TimingConditions off = standing;
  off.closed_expected = false;
  off.supply_seen = true;
  const TimingConditions fed{.supply_seen = true};
  const CycleSummary always_on = analyze(sampled({{1200, 230}}, 0.5));
  const CycleSummary always_off = analyze(sampled({{1200, 0}}, 0.5));
  const CycleSummary good = measured(30, 8, 12, 0.1);

  CHECK(has(judge_timing(always_on, limits), TimingFault::never_opens));
  CHECK(judge_timing(always_on, limits).headline.find("stays live means a welded contact") != std::string::npos);
  CHECK(has(judge_timing(always_off, limits, fed), TimingFault::never_closes));
  CHECK(to_string(judge_timing(good, limits).outcome) == "pass");
  CHECK(judge_timing(good, limits).faults.empty());
  CHECK(has(judge_timing(measured(30, 20, 30, 0.1), limits), TimingFault::too_slow));
  CHECK(has(judge_timing(measured(30, 2, 3, 0.1), limits), TimingFault::too_fast));
  CHECK(to_string(judge_timing(always_on, limits, standing).outcome) == "pass");
  CHECK(to_string(judge_timing(always_off, limits, off).outcome) == "pass");
  CHECK(has(judge_timing(always_on, limits, off), TimingFault::stays_live));
  CHECK(has(judge_timing(good, limits, off), TimingFault::stays_live));
  CHECK(has(judge_timing(good, limits, standing), TimingFault::erratic));

  auto uneven = cycling(30, 8, 12);
  for (std::size_t i = 1; i < uneven.size(); i += 4) uneven[i].for_s = 24;
  CHECK(has(judge_timing(analyze(sampled(uneven, 0.1)), limits), TimingFault::erratic));

  auto drifting = cycling(40, 8, 12);
  for (std::size_t i = 1; i < drifting.size(); i += 2) drifting[i].for_s = 6 + 0.1 * static_cast<double>(i);
  CHECK(has(judge_timing(analyze(sampled(drifting, 0.1)), limits), TimingFault::drifting));

  // Switched on in front of the recorder and never off again; welded after ten good cycles.
  CHECK(has(judge_timing(analyze(sampled({{10, 0}, {1200, 230}}, 0.5)), limits), TimingFault::never_opens));
  auto welded = cycling(10, 8, 12);
  welded.back().for_s = 1200;
  CHECK(has(judge_timing(analyze(sampled(welded, 0.1)), limits), TimingFault::never_opens));
  CHECK(judge_timing(analyze(sampled(cycling(10, 8, 12), 0.1)), limits).faults.empty());

  // Too short to say that it never opens.
  const TimingJudgement brief = judge_timing(analyze(sampled({{30, 230}}, 0.5)), limits);
  CHECK(to_string(brief.outcome) == "undecided");
  CHECK(brief.faults.empty());
}

TEST_CASE("click rate and operations and the recommended number of cycles follow CISPR 14-1") {
  // N = half the number of switching operations per minute: period 20 s gives 6 operations a minute, N = 3,
  // +20.0 dB; period 40 s gives 1.5, +26.0 dB. 40 operations at a period of 20 s take 400 s.
  TimingLimits limits;
  limits.duty = Interval{0.3, 0.5};
  const TimingJudgement twenty = judge_timing(measured(20, 8, 12, 0.1), limits);
  CHECK(*twenty.click_rate_per_min == doctest::Approx(3.0).epsilon(1e-3));
  CHECK(*twenty.operations_per_hour == doctest::Approx(360).epsilon(1e-3));
  CHECK_FALSE(remarks_on(twenty, "recommended"));
  const TimingJudgement forty = judge_timing(measured(10, 16, 24, 0.1), limits);
  CHECK(*forty.click_rate_per_min == doctest::Approx(1.5).epsilon(1e-3));
  CHECK(remarks_on(forty, "at least 20 are recommended"));
  CHECK(click_relaxation_db(3.0) == doctest::Approx(20.0).epsilon(0.001));
  CHECK(click_relaxation_db(1.5) == doctest::Approx(26.0).epsilon(0.001));
  CHECK(click_relaxation_db(2.0) == doctest::Approx(23.5).epsilon(0.001));
}

TEST_CASE("limits on on and off times limit the period and name what is too slow") {
  // 4 to 25 s on and 8 to 45 s off allow periods of 12 to 70 s.
  TimingLimits limits;
  limits.on_s = Interval{4, 25};
  limits.off_s = Interval{8, 45};
  CHECK(has(judge_timing(measured(30, 30, 50, 0.1), limits), TimingFault::too_slow));
  CHECK(has(judge_timing(measured(30, 3, 6, 0.1), limits), TimingFault::too_fast));
  CHECK(judge_timing(measured(30, 12, 18, 0.1), limits).faults.empty());
  // Three of the longest periods without switching, 210 s, are enough to say that it never opens.
  CHECK(has(judge_timing(analyze(sampled({{220, 230}}, 0.5)), limits), TimingFault::never_opens));
  CHECK_FALSE(has(judge_timing(analyze(sampled({{200, 230}}, 0.5)), limits), TimingFault::never_opens));
}

TEST_CASE("a part inside its limits that another rating would fit as well is told to compare the stamp") {
  // Duty 0.40 on 240 V fits 0.25 to 0.50 at 240 V and so does 0.40 (240 / 220)^2 = 0.476 at 220 V, which is
  // the same class; 208 V would give 0.533. With an upper limit of 0.6 it would fit a 208 V part too.
  TimingLimits limits;
  limits.duty = Interval{0.25, 0.50};
  TimingConditions conditions{.rated_voltage_v = 240, .measured_voltage_v = 240, .heater = HeaterKind::shunt};
  const CycleSummary summary = measured(30, 8, 12, 0.1);
  CHECK_FALSE(remarks_on(judge_timing(summary, limits, conditions), "made for"));
  limits.duty = Interval{0.25, 0.60};
  CHECK(remarks_on(judge_timing(summary, limits, conditions), "would also fit a part made for 208 V"));
}

TEST_CASE("figures in sentences have two significant figures of uncertainty") {
  TimingLimits limits;
  limits.on_s = Interval{4, 25};
  limits.duty = Interval{0.25, 0.50};
  // Sampled every 0.5 s: U(on) = 2 0.5 / sqrt(6) = 0.41 s; U(duty) = 0.41 / 20 = 2.0 %.
  const TimingJudgement judgement = judge_timing(measured(30, 8, 12, 0.5), limits);
  CHECK(judgement.findings.at(0).sentence == "On time 8.00 s +/- 0.41 s lies inside 4 s to 25 s.");
  CHECK(judgement.findings.at(1).sentence == "Duty 40.0 % +/- 2.0 % lies inside 25 % to 50 %.");
}

TEST_CASE("a load that is dead at off but for short excursions is not simply passed") {
  std::vector<Hold> holds{{600, 0}, {0.3, 230}, {600, 0}, {0.2, 230}, {600, 0}};
  TimingConditions off{.cycling_expected = false, .closed_expected = false};
  CycleSettings settings;
  settings.min_dwell_s = 1.0;
  settings.dead_below = 2.0;
  const TimingJudgement judgement = judge_timing(analyze(sampled(holds, 0.1), settings), {}, off);
  CHECK(to_string(judgement.outcome) != "pass");
}

TEST_CASE("a load that is dead says nothing while nobody saw the supply") {
  const CycleSummary dead = analyze(sampled({{1200, 0}}, 0.5));
  TimingLimits limits;
  limits.on_s = Interval{4, 25};
  limits.off_s = Interval{8, 45};
  for (const bool cycling : {true, false})
    for (const bool closed : {true, false}) {
      CAPTURE(cycling);
      CAPTURE(closed);
      const TimingConditions unseen{.cycling_expected = cycling, .closed_expected = closed};
      const TimingJudgement judgement = judge_timing(dead, limits, unseen);
      CHECK(to_string(judgement.outcome) == "undecided");
      CHECK(judgement.headline.find("supply was on") != std::string::npos);
    }
}

TEST_CASE("dwells that the record cuts off count as far as they were seen") {
  // 4 to 25 s on and 8 to 45 s off; 24 cycles of 12 s and 18 s; the longest period is 70 s, three of them 210 s.
  TimingLimits limits;
  limits.on_s = Interval{4, 25};
  limits.off_s = Interval{8, 45};
  struct Row {
    const char* what;
    std::vector<Hold> before, after;
    bool line;  ///< a line channel was live throughout
    const char* outcome;
  };
  const Row rows[] = {
      {"good", {}, {}, false, "pass"},
      {"then closed for 24 s", {}, {{12, 230}}, false, "pass"},
      {"then closed for 40 s", {}, {{28, 230}}, false, "fail"},
      {"then open for 44 s", {}, {{44, 0}}, false, "pass"},
      {"then open for 60 s", {}, {{60, 0}}, false, "fail"},
      {"first closed for 60 s, a cold start", {{60, 230}}, {}, false, "pass"},
      {"first closed for 100 s", {{100, 230}}, {}, false, "undecided"},
      {"first closed for 300 s", {{300, 230}}, {}, false, "fail"},
      {"first dead for 60 s", {{60, 0}}, {}, false, "pass"},
      {"first dead for 60 s with the supply on", {{60, 0}}, {}, true, "fail"},
      {"first dead for 300 s", {{300, 0}}, {}, false, "undecided"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    std::vector<Hold> holds = row.before;
    for (const Hold& hold : cycling(24, 12, 18)) holds.push_back(hold);
    for (const Hold& hold : row.after) holds.push_back(hold);
    const TimingConditions conditions{.supply_seen = true, .supply_live_throughout = row.line};
    const TimingJudgement judgement = judge_timing(analyze(sampled(holds, 0.5)), limits, conditions);
    CAPTURE(judgement.headline);
    CHECK(to_string(judgement.outcome) == row.outcome);
  }
}

TEST_CASE("every cycle is judged and so is the spread") {
  TimingLimits limits;
  limits.on_s = Interval{4, 25};
  const auto judged = [&](std::vector<double> on_s) {
    std::vector<Hold> holds{{18, 0}};
    for (std::size_t i = 0; i < 24; ++i) {
      holds.push_back({on_s[i % on_s.size()], 230});
      holds.push_back({18, 0});
    }
    holds.push_back({5, 230});
    return judge_timing(analyze(sampled(holds, 0.5)), limits);
  };
  CHECK(to_string(judged({12, 13}).outcome) == "pass");
  // The mean of 3 s and 28 s is 15.5 s.
  const TimingJudgement outside = judged({3, 28});
  CHECK(to_string(outside.outcome) == "fail");
  CHECK(outside.findings.at(0).sentence.find("from 3 s to 28 s") != std::string::npos);
  // 16 s and 22 s: sd 3.06 s, and 19 s + 2.1 sd lies beyond 25 s.
  CHECK(to_string(judged({16, 22}).outcome) == "undecided");
}

TEST_CASE("a dwell that goes on is overdue as soon as its limit is passed") {
  TimingLimits limits;
  limits.on_s = Interval{4, 25};
  limits.off_s = Interval{8, 45};
  CHECK_FALSE(overdue(limits, {}, {}, true, 24.0));
  CHECK(overdue(limits, {}, {}, true, 26.0)->find("25.0 s") != std::string::npos);
  CHECK_FALSE(overdue(limits, {}, {}, false, 44.0));
  CHECK(overdue(limits, {}, {}, false, 46.0));
  CHECK(overdue({}, {.cycling_expected = false, .closed_expected = false}, {}, true, 0.0));
  CHECK(limits_words(limits) == "on 4 s to 25 s, off 8 s to 45 s");
}

TEST_CASE("the supply's own uncertainty enters a carried duty") {
  // duty 0.4 with U 0 carried by (V / V)^2, V known to 1 %: U = 0.4 x 2 x 0.01 = 0.008.
  TimingLimits limits;
  limits.duty = Interval{0.25, 0.50};
  TimingConditions conditions{.rated_voltage_v = 240, .measured_voltage_v = 240, .heater = HeaterKind::shunt};
  const CycleSummary summary = measured(30, 8, 12, 0.02);
  const double without = judge_timing(summary, limits, conditions).findings.at(0).U;
  conditions.measured_relative_U = 0.01;
  CHECK(judge_timing(summary, limits, conditions).findings.at(0).U ==
        doctest::Approx(std::hypot(without, 0.008)).epsilon(1e-3));
}
