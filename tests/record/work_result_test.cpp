// What work amounted to goes to the store as a line and comes back as what it was; what a version before this one wrote is read,
// and what nobody can read is kept as it is.
#include "switchwright/record/work_result.hpp"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "switchwright/record/record_json.hpp"
#include "switchwright/record/result_json.hpp"

namespace switchwright {
namespace {

/// Written, read and written again.
WorkResult there_and_back(const WorkResult& result) {
  WorkResult again = read_result(result.kind, result.channel, result.operations, result_line(result));
  CHECK(again.kept == result_line(result));
  CHECK(again.value.index() == result.value.index());
  again.kept.clear();  // so that it is written from what was understood
  CHECK(result_line(again) == result_line(result));
  return again;
}

Figure figure(double mean) {
  Figure f;
  f.mean = mean;
  f.sd = 0.25;
  f.median = mean + 0.125;
  f.min = mean - 1.0;
  f.max = mean + 1.0;
  f.U = 0.5;
  f.k = 2.1;
  f.lag1 = -0.25;
  f.trend = Trend{12.0, 0.5, 1.5, 0.0625, 0.03125, 1};
  return f;
}

ChannelSummary summary() {
  ChannelSummary value;
  value.channel = "load <1>";
  CycleSummary& s = value.summary;
  s.samples = 1000;
  s.complete_cycles = 12;
  s.all = {11, 0.0, figure(8.0), figure(12.0), figure(20.0), figure(0.4)};
  s.steady = {9, 0.0, figure(8.5), figure(12.5), figure(21.0), figure(0.5)};
  s.steady_from_cycle = 3;
  s.low_level = 0.5;
  s.high_level = 240.0;
  s.state = ChannelState::cycling;
  s.trusted = false;
  s.reasons = {"It was sampled too seldom."};
  s.notes = {"One.", "Two."};
  s.edges = 25;
  s.first_s = 0.5;
  s.last_s = 250.0;
  s.high_at_end = true;
  s.last_change_s = 245.5;
  value.events.add({CycleEventKind::blip, 3.5, 0.25, true});
  value.events.add({CycleEventKind::clock_step, 7.0, 0.0, false});
  return value;
}

TraceVerdict verdict() {
  TraceVerdict value;
  value.position = "medium";
  value.record_id = "20260301-091502-7f3a";
  value.life = Life{24, 100, 2, 1e5};
  CyclingJudgement& j = value.judgement;
  j.outcome = Outcome::fail;
  j.scope.fails(ScopePart::timing, "The on time is too long.");
  j.required = {ScopePart::timing};
  j.headline = "The on time is too long.";
  j.load_channel = "load";
  j.expected = "cycle";
  j.supply_v = 239.5;
  j.supply_from = "measured on line";
  j.heater = HeaterKind::shunt;
  j.remarks = {"A remark."};
  j.findings = {{"pilot", ChannelRole::pilot, Outcome::fail, "dead", "The pilot was dead."}};
  j.timing.emplace();
  TimingFinding f;
  f.quantity = "on time";
  f.unit = "s";
  f.value = 30.0;
  f.U = 0.5;
  f.least = 29.0;
  f.limits = {4.0, 25.0};
  f.normalized = true;
  f.outcome = Outcome::fail;
  f.sentence = "Too long.";
  j.timing->findings = {f};
  j.timing->faults = {{TimingFault::too_slow, "It is too slow."}};
  j.timing->duty_at_rated = 0.5;
  j.timing->versions = {{208.0, 0.75, 40.0, true}};
  j.timing->operations_per_hour = 90.0;
  j.timing->click_rate_per_min = 0.75;
  return value;
}

}  // namespace

TEST_CASE("a trace's figures and its verdict come back as they were kept") {
  const auto again = std::get<ChannelSummary>(there_and_back(result_of(summary())).value);
  CHECK(again.summary.all.cycles == 11);
  CHECK(again.summary.steady.duty.mean == 0.5);
  CHECK(again.summary.all.on_s.trend->slope == 0.03125);
  CHECK(again.events.first().at(0).high);
  CHECK(again.events.count() == 2);

  const auto judged = std::get<TraceVerdict>(there_and_back(result_of(verdict())).value);
  CHECK(judged.judgement.scope == verdict().judgement.scope);
  CHECK(judged.judgement.timing->faults.at(0).fault == TimingFault::too_slow);
  CHECK(judged.judgement.findings.at(0).role == ChannelRole::pilot);
  CHECK(judged.life->total() == 124);
}

TEST_CASE("what guided work was to do and what it found come back as they were kept") {
  ContactDrop drop{"line", "high", {"L1", "H1"}, {1.0, 0.01}, 0.02, 0.98, 0.0, 15.0, 1.5, {}};
  drop.drop.state = DropState::seen;
  drop.drop.drop_v = 0.00625;
  drop.drop.ohm = 0.00625;
  drop.drop.U_ohm = 0.0005;
  drop.drop.drift_v = 1e-5;
  drop.drop.spot_c = 23.0;
  drop.drop.outcome = Outcome::pass;
  drop.drop.sentence = "Sound.";
  CHECK(std::get<ContactDrop>(there_and_back(result_of(drop)).value).pair.text() == "L1-H1");
  for (int state = 0; state <= static_cast<int>(DropState::beyond); ++state) {
    drop.drop.state = static_cast<DropState>(state);
    CHECK(std::get<ContactDrop>(there_and_back(result_of(drop)).value).drop.state == drop.drop.state);
  }
  there_and_back(result_of(DropTask{{1.0, 0.01}, "high", true}));

  LearnSubject subject;
  subject.title = "a part";
  subject.terminals = {"1", "2"};
  subject.positions = {"off", "on"};
  subject.current_a = 15.0;  // a drop task has a current, too
  there_and_back(result_of(subject));

  LearnedPart part;
  part.learned.contacts = {{"c1", {"1", "2"}, {"on"}, {}}};
  part.learned.elements = {{"e1", {"1", "3"}, 14400.0, 15.0}};
  part.learned.unconnected = {"4"};
  part.learned.ambiguities = {"The element may as well lie between 2 and 3."};
  part.profile = "schema = 1\n";
  there_and_back(result_of(part));

  there_and_back(result_of(LotUnitSetup{"lot-id", "L-17", 3, 41, LotUnitSetup::Leads{0.25, 0.125}}));
  there_and_back(result_of(LotUnitSetup{"lot-id", "L-17", 3, 41, {}}));
  there_and_back(result_of(BenchCheckSetup{"lot-id"}));
}

TEST_CASE("what an older version kept is read and stays byte for byte") {
  // As 0.1.0 wrote them, keys in any order; before a verdict had a scope and a drop had a state.
  const std::string verdict =
      R"({"verdict":"pass","type":"verdict","headline":"All is inside its limits.","position":"low","channels":[],"remarks":[]})";
  const WorkResult old = read_result("verdict", "load", 24, verdict);
  CHECK(std::get<TraceVerdict>(old.value).judgement.scope[ScopePart::timing].decided == Decided::pass);
  CHECK(result_line(old) == verdict);
  const std::string drop =
      R"({"type":"drop","contact":"line","position":"high","pair":["L1","H1"],"drop_v":0.006,"outcome":"pass","text":"Sound."})";
  const WorkResult older = read_result("drop", "line", 0, drop);
  CHECK(std::get<ContactDrop>(older.value).drop.state == DropState::seen);
  CHECK(result_line(older) == drop);
  const WorkResult unit = read_result(
      "setup", "", 0,
      R"({"kind":"lot-unit","leads":{"ohm":0.3,"resolution":0.1},"lot":"x","lot_number":"7","place":1,"unit":9})");
  CHECK(std::get<LotUnitSetup>(unit.value).leads->ohm == 0.3);
}

TEST_CASE("a line that nobody can read says nothing and is kept as it is") {
  for (const char* kind : {"summary", "verdict", "setup", "drop", "learned", "of a later version"})
    for (const std::string line :
         {"", "{", "[]", "null", "{}", R"({"state":"sideways"})", R"({"verdict":7})", R"({"channel":{},"state":[]})",
          R"({"verdict":"pass","channels":7})", R"({"pair":["L1"],"outcome":"pass"})", R"({"contacts":[{"pair":7}]})",
          R"({"terminals":"L1","positions":[]})", R"({"kind":"lot-unit","place":"first"})", "\xff\xfe"}) {
      CAPTURE(kind);
      CAPTURE(line);
      const WorkResult result = read_result(kind, "c", 3, line);
      CHECK(result_line(result) == line);
      CHECK(std::holds_alternative<UnknownResult>(result.value));
    }
}

}  // namespace switchwright
