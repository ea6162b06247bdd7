// What a trace says about a part at a position. Summaries are made by hand; expected outcomes follow from the
// profile's own words and from arithmetic.
#include "switchwright/judge/cycling.hpp"

#include <doctest/doctest.h>

#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

Profile kitchen(const char* id) { return load_profile(id, {std::filesystem::path{SOURCE_DIR} / "profiles"}); }

CycleSummary standing(ChannelState state, double level) {
  CycleSummary s;
  s.samples = 4000;
  s.last_s = 2000.0;
  s.state = state;
  (state == ChannelState::always_on ? s.high_level : s.low_level) = level;
  return s;
}

Figure figure(double mean) {
  Figure f;
  f.mean = f.median = f.min = f.max = mean;
  f.sd = 0.0;
  f.U = 0.01 * mean;
  return f;
}

CycleSummary cycling(double on_s, double off_s) {
  CycleSummary s = standing(ChannelState::cycling, 0.0);
  s.high_level = 240.0;
  s.complete_cycles = s.all.cycles = 30;
  s.edges = 61;
  s.high_at_end = true;
  s.last_change_s = 1995.0;
  s.all.on_s = figure(on_s);
  s.all.off_s = figure(off_s);
  s.all.period_s = figure(on_s + off_s);
  s.all.duty = figure(on_s / (on_s + off_s));
  return s;
}

CyclingChannel channel(const char* name, const CycleSummary& summary) {
  CyclingChannel c{name,         &summary, summary.low_level.value_or(0.0), summary.high_level.value_or(0.0),
                   std::nullopt, true};
  if (summary.state == ChannelState::always_on) c.min = c.max;
  return c;
}

}  // namespace

TEST_CASE("a role is said by a whole name or stated and never guessed from a part of one") {
  using R = ChannelRole;
  const Profile profile = kitchen("regulator-shunt-240");
  CHECK(roles_of({{"load", {}}, {"line", {}}, {"pilot", {}}}, profile) == std::vector<R>{R::load, R::line, R::pilot});
  CHECK(roles_of({{"Line [V]", {}}, {"load (W)", {}}}, profile) == std::vector<R>{R::line, R::load});
  // The profile's own names of its loads.
  CHECK(roles_of({{"surface", {}}, {"lamp", {}}}, profile) == std::vector<R>{R::load, R::pilot});
  CHECK(roles_of({{"clamp", {}}, {"offline", {}}, {"loader", {}}, {"mains", {}}}, profile) ==
        std::vector<R>{R::other, R::other, R::other, R::other});
  CHECK(roles_of({{"clamp", R::load}, {"offline", R::line}}, profile) == std::vector<R>{R::load, R::line});
  CHECK(roles_of({{"anything", {}}}, profile) == std::vector<R>{R::load});
}

TEST_CASE("what carries heat into the bimetal follows from its resistance") {
  CHECK(heater_kind(kitchen("regulator-shunt-240"), "low") == HeaterKind::shunt);
  CHECK(heater_kind(kitchen("regulator-series-240"), "low") == HeaterKind::series);
  CHECK(heater_kind(kitchen("regulator-shunt-240"), "off") == HeaterKind::unknown);
}

TEST_CASE("the position says what the load should do") {
  const Profile profile = kitchen("regulator-shunt-240");
  const CycleSummary good = cycling(12, 18), on = standing(ChannelState::always_on, 240),
                     off = standing(ChannelState::always_off, 0.0);
  struct Row {
    const char* position;
    const CycleSummary* load;
    const char* should;
    Outcome outcome;
  };
  const Row rows[] = {{"medium", &good, "cycle", Outcome::pass},     {"medium", &on, "cycle", Outcome::fail},
                      {"medium", &off, "cycle", Outcome::undecided}, {"high", &on, "stay live", Outcome::pass},
                      {"high", &good, "stay live", Outcome::fail},   {"off", &off, "stay dead", Outcome::undecided},
                      {"off", &on, "stay dead", Outcome::fail}};
  for (const Row& row : rows) {
    CAPTURE(row.position);
    const auto judgement =
        judge_cycling(profile, row.position, {channel("load", *row.load)}, {240.0, {}, DecisionRule::guarded});
    CHECK(judgement.expected == row.should);
    CHECK(judgement.outcome == row.outcome);
  }
}

TEST_CASE("the pilot must stay live while the knob is on and dead at off") {
  const Profile profile = kitchen("regulator-shunt-240");
  const CycleSummary good = cycling(12, 18), on = standing(ChannelState::always_on, 240),
                     off = standing(ChannelState::always_off, 0.0);
  const auto outcome = [&](const char* position, const CycleSummary& load, const CycleSummary& pilot) {
    return judge_cycling(profile, position, {channel("load", load), channel("pilot", pilot)},
                         {240.0, {}, DecisionRule::guarded});
  };
  CHECK(outcome("medium", good, on).outcome == Outcome::pass);
  CHECK(outcome("medium", good, off).findings.at(0).word == "dead");
  CHECK(outcome("medium", good, good).findings.at(0).word == "interrupted");
  // Both dead: a switch at off, or a plug that is out. A live line tells.
  CHECK(outcome("off", off, off).outcome == Outcome::undecided);
  CHECK(judge_cycling(profile, "off", {channel("load", off), channel("pilot", off), channel("line", on)}).outcome ==
        Outcome::pass);
  CHECK(outcome("off", off, on).findings.at(0).word == "live");
  CycleSummary gappy = on;
  // The profile's shortest dwell at medium is 4 s: a gap as long could hide an interruption, a shorter one
  // could not.
  gappy.gaps = 2;
  gappy.longest_gap_s = 4.0;
  CHECK(outcome("medium", good, gappy).outcome == Outcome::undecided);
  gappy.longest_gap_s = 3.9;
  CHECK(outcome("medium", good, gappy).outcome == Outcome::pass);
}

TEST_CASE("a measured line counts for more than a stated supply") {
  const Profile profile = kitchen("regulator-shunt-240");
  const CycleSummary good = cycling(12, 18), line = standing(ChannelState::always_on, 236);
  const auto judgement = judge_cycling(profile, "medium", {channel("load", good), channel("line", line)},
                                       {240.0, {}, DecisionRule::guarded});
  CHECK(judgement.supply_v == 236.0);
  CHECK(judgement.supply_from == "measured on line");
  // 0.4 (236 / 240)^2
  CHECK(*judgement.timing->duty_at_rated == doctest::Approx(0.38678).epsilon(1e-4));
}

TEST_CASE("a line that moves counts by its root mean square and not by its commonest value") {
  // 230 V and 250 V for half of the time each: sqrt((230^2 + 250^2) / 2) = 240.2082 V.
  CHECK(*rms_of({{230.0, 500, 0, 0}, {250.0, 500, 0, 0}}) == doctest::Approx(240.2082).epsilon(1e-6));
  CHECK_FALSE(rms_of({}));
  const Profile profile = kitchen("regulator-shunt-240");
  const CycleSummary good = cycling(12, 18), line = standing(ChannelState::always_on, 250);
  CyclingChannel moving = channel("line", line);
  moving.rms = 240.0;
  const auto judgement = judge_cycling(profile, "medium", {channel("load", good), moving});
  CHECK(judgement.supply_v == 240.0);
  CHECK(*judgement.timing->duty_at_rated == doctest::Approx(0.4).epsilon(1e-9));
}

TEST_CASE("a supply outside its range is no fault of the switch") {
  // ANSI C84.1 range A for 240 V: 228 V to 252 V (from memory).
  const Profile profile = kitchen("regulator-shunt-240");
  const CycleSummary good = cycling(12, 18), line = standing(ChannelState::always_on, 220);
  const auto judgement = judge_cycling(profile, "medium", {channel("load", good), channel("line", line)});
  CHECK(judgement.findings.at(0).word == "out-of-range");
  CHECK(judgement.outcome == Outcome::undecided);
}

TEST_CASE("no channel on the load leaves the question open") {
  const CycleSummary line = standing(ChannelState::always_on, 240);
  const auto judgement = judge_cycling(kitchen("regulator-shunt-240"), "medium", {channel("line", line)});
  CHECK(judgement.outcome == Outcome::undecided);
  CHECK(judgement.load_channel.empty());
}

TEST_CASE("an unknown position is refused with near names") {
  CHECK_THROWS_WITH_AS(judge_cycling(kitchen("regulator-shunt-240"), "midium", {}), doctest::Contains("medium"), Error);
}

TEST_CASE("a contact that never opens is told how a weld and a heater are told apart in this part") {
  const Profile profile = kitchen("regulator-shunt-240");
  const CycleSummary on = standing(ChannelState::always_on, 240);
  const auto judgement = judge_cycling(profile, "medium", {channel("load", on)}, {240.0, {}, DecisionRule::guarded});
  std::string told;
  for (const std::string& remark : judgement.remarks) told += remark + "\n";
  // The cycling contact lies between L2 and H2, the heater of 14400 ohm +/- 15 % between H1 and H2.
  for (const char* words : {"L2-H2 must then not be closed", "contact cycling is welded",
                            "H1-H2 must read 12.24 kohm to 16.56 kohm", "heater is broken"}) {
    CAPTURE(words);
    CHECK(told.find(words) != std::string::npos);
  }
}
