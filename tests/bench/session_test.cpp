#include "switchwright/bench/session.hpp"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <set>

#include "imagined_bench.hpp"

using namespace switchwright;
using switchwright::testing::ImaginedBench;

TEST_CASE("a good switch passes and every pair is measured at every position") {
  ImaginedBench bench;
  bench.begin().start();
  bench.listen(1000);
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::pass);
  // Six nodes make 6*5/2 = 15 pairs; four positions.
  CHECK(bench.session->verdict()->findings.size() == 60);
  CHECK(bench.session->verdict()->deviations().empty());
}

TEST_CASE("the safety steps come before the first resistance reading") {
  ImaginedBench bench;
  bench.begin().start();
  bench.listen(1000);
  std::vector<StepKind> order;
  for (const Event& event : bench.log)
    if (const auto* shown = std::get_if<StepShown>(&event))
      if (order.empty() || order.back() != shown->step.kind) order.push_back(shown->step.kind);
  // In AC and in DC volts; whoever looks closely touches, so that comes after.
  const std::vector<StepKind> expected{StepKind::acknowledge,       StepKind::prove_meter, StepKind::absence,
                                       StepKind::prove_meter_again, StepKind::prove_meter, StepKind::absence,
                                       StepKind::prove_meter_again, StepKind::inspect,     StepKind::leads_before,
                                       StepKind::measure,           StepKind::leads_after};
  CHECK(order == expected);
}

TEST_CASE("each fault ends in the verdict that a person would give") {
  struct Row {
    const char* fault;
    Outcome outcome;
    const char* position;
    Pair pair;
    DeviationKind kind;
    Severity severity;
  };
  const Row rows[] = {
      {"stuck-closed:cycling", Outcome::fail, "off", {"L2", "H2"}, DeviationKind::stays_closed, Severity::critical},
      {"stuck-closed:line", Outcome::fail, "off", {"L1", "H1"}, DeviationKind::stays_closed, Severity::critical},
      {"stuck-open:line", Outcome::fail, "low", {"L1", "H1"}, DeviationKind::stays_open, Severity::major},
      {"resistive:line=20", Outcome::fail, "high", {"L1", "H1"}, DeviationKind::high_resistance, Severity::major},
      {"open:heater", Outcome::fail, "off", {"H1", "H2"}, DeviationKind::stays_open, Severity::major},
      {"drifted:heater=60", Outcome::fail, "off", {"H1", "H2"}, DeviationKind::out_of_band, Severity::major},
  };
  for (const Row& row : rows) {
    CAPTURE(row.fault);
    ImaginedBench bench{false, {row.fault}};
    bench.begin().start();
    bench.listen(1000);
    REQUIRE(bench.session->verdict());
    CHECK(bench.session->verdict()->outcome == row.outcome);
    bool found = false;
    for (const Finding* finding : bench.session->verdict()->deviations())
      if (finding->expected.position == row.position && finding->expected.pair == row.pair) {
        found = true;
        CHECK(finding->kind == row.kind);
        CHECK(finding->severity == row.severity);
      }
    CHECK(found);
  }
}

TEST_CASE("volts on the part stop the work before any resistance is measured") {
  ImaginedBench bench;
  bench.volts_on_part = 121.3;
  bench.begin().start();
  bench.listen(1000);
  CHECK(bench.session->stopped_kind() == "volts-present");
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::undecided);
  for (const Event& event : bench.log)
    if (const auto* kept = std::get_if<Kept>(&event)) CHECK(kept->step.kind != StepKind::measure);
}

TEST_CASE("volts that appear during resistance work stop it") {
  ImaginedBench bench;
  bench.begin().start();
  for (int i = 0; i < 500 && bench.session->current()->kind != StepKind::measure; ++i) bench.listen(0.2);
  bench.clock.advance(std::chrono::milliseconds{200});
  Reading volts;
  volts.quantity = Quantity::voltage_ac;
  volts.value = 230.1;
  volts.at = bench.clock.now();
  bench.session->on_reading(volts);
  CHECK(bench.session->stopped_kind() == "volts-present");
}

TEST_CASE("a last reading of the known source on its way does not stop the work") {
  ImaginedBench bench;
  bench.begin().start();
  for (int i = 0; i < 500 && bench.session->current()->kind != StepKind::leads_before; ++i) bench.listen(0.2);
  REQUIRE(bench.session->current()->kind == StepKind::leads_before);
  Reading late;
  late.quantity = Quantity::voltage_ac;
  late.value = 24.0;
  late.at = bench.clock.now();
  bench.session->on_reading(late);
  CHECK(!bench.session->ended());
  bench.listen(1000);
  CHECK(bench.session->verdict()->outcome == Outcome::pass);
}

TEST_CASE("a meter that shows nothing on a live source is not gone on with") {
  ImaginedBench unattended;
  unattended.source_v = 0.0;
  unattended.begin().start();
  unattended.listen(100);
  CHECK(unattended.session->stopped_kind() == "meter");

  ImaginedBench attended{true};
  attended.source_v = 0.0;
  attended.begin().start();
  attended.run_to(StepKind::prove_meter);
  attended.confirm_when_settled();
  CHECK(attended.session->current()->kind == StepKind::prove_meter);
  CHECK(attended.last<Note>()->kind == "meter-not-proven");
}

TEST_CASE("an over-range or a few volts on the known source prove no meter") {
  ImaginedBench over{false};
  over.source_over_range = true;
  over.begin().start();
  over.listen(100);
  CHECK(over.session->stopped_kind() == "meter");
  ImaginedBench stray{false};
  stray.source_v = 4.0;  // what an open lead may pick up beside a live wire
  stray.begin().start();
  stray.listen(100);
  CHECK(stray.session->stopped_kind() == "meter");
}

TEST_CASE("absence of voltage is tested between every two points in AC and in DC") {
  ImaginedBench bench;
  bench.begin().start();
  bench.listen(1000);
  std::set<std::pair<Quantity, std::string>> tested;
  for (const Event& event : bench.log)
    if (const auto* kept = std::get_if<Kept>(&event); kept && kept->step.kind == StepKind::absence)
      tested.insert({kept->step.arrangement.dial, kept->step.arrangement.pair.text()});
  // Six points make 6*5/2 = 15 pairs, in two functions.
  CHECK(tested.size() == 30);
}

TEST_CASE("a second key press does not take the known source for the part") {
  ImaginedBench bench{true};
  bench.begin().start();
  bench.run_to(StepKind::absence);
  const int step = bench.session->current()->number;
  bench.probes_left_at = Probes::on_known_source;
  bench.listen(3);
  bench.session->confirm();
  REQUIRE(!bench.session->ended());
  CHECK(bench.session->current()->number == step);
  CHECK(bench.last<Note>()->kind == "still-on-source");
  // Off the source and onto a part that is live with the same voltage: that is the part.
  bench.probes_left_at = Probes::off;
  bench.listen(1);
  bench.probes_left_at.reset();
  bench.volts_on_part = bench.source_v;
  bench.listen(3);
  bench.session->confirm();
  CHECK(bench.session->stopped_kind() == "volts-present");
}

TEST_CASE("leads that are too high are refused at the bench and let nothing pass unattended") {
  ImaginedBench attended{true};
  attended.lead_ohm = 0.9;
  attended.begin().start();
  attended.run_to(StepKind::leads_before);
  attended.confirm_when_settled();
  CHECK(attended.session->current()->kind == StepKind::leads_before);
  CHECK(attended.last<Note>()->kind == "leads-refused");
  attended.session->skip("no others here");
  attended.run_to(StepKind::leads_after);
  attended.session->skip("the same as before");
  attended.run_to_end();
  REQUIRE(attended.session->verdict());
  CHECK(attended.session->verdict()->outcome == Outcome::undecided);

  ImaginedBench unattended;
  unattended.lead_ohm = 0.9;
  unattended.begin().start();
  unattended.listen(1000);
  REQUIRE(unattended.session->verdict());
  CHECK(unattended.session->verdict()->outcome == Outcome::undecided);
}

TEST_CASE("each contact is closed at least three times and the record tells the visits apart") {
  ImaginedBench bench;
  bench.begin().start();
  bench.listen(1000);
  REQUIRE(bench.session->verdict());
  int closings = 0;
  for (const Event& event : bench.log)
    if (const auto* kept = std::get_if<Kept>(&event); kept && kept->step.arrangement.pair == Pair{"L2", "H2"} &&
                                                      kept->step.kind == StepKind::measure &&
                                                      kept->step.arrangement.position == "low")
      closings = std::max(closings, kept->step.visit);
  CHECK(closings == 3);  // no other pair shows the cycling contact
}

TEST_CASE("a meter without DC volts proves a part dead only with a statement") {
  for (const bool is_stated : {false, true}) {
    ImaginedBench bench;
    std::erase_if(bench.meter.accuracy, [](const AccuracyRow& row) { return row.quantity == Quantity::voltage_dc; });
    SessionSettings settings;
    if (is_stated) settings.absence_stated["no-dc-voltage"] = "tester";
    bench.begin(settings).start();
    bench.listen(1000);
    REQUIRE(bench.session->verdict());
    CHECK(bench.session->verdict()->outcome == (is_stated ? Outcome::pass : Outcome::undecided));
  }
}

TEST_CASE("nothing settles and nobody is there so the session ends after its patience") {
  ImaginedBench bench;
  bench.begin().start();
  for (int i = 0; i < 400; ++i) {
    bench.clock.advance(std::chrono::milliseconds{100});
    bench.session->on_tick();
  }
  CHECK(bench.session->stopped_kind() == "meter");
  CHECK(bench.session->stopped_text().find("No reading came at all") != std::string::npos);
}

TEST_CASE("a person must state contact where every position reads open") {
  ImaginedBench bench{true};
  bench.begin().start();
  bench.run_to(StepKind::measure, "L1-CASE");
  const int placement_steps = 4;
  for (int i = 0; i + 1 < placement_steps; ++i) bench.confirm_when_settled();
  bench.listen(3);
  const int step = bench.session->current()->number;
  CHECK(bench.last<Settled>()->needs_contact_statement);
  bench.session->confirm();
  CHECK(bench.session->current()->number == step);
  CHECK(bench.last<Note>()->kind == "contact-needed");
  bench.session->state_contact();
  CHECK(bench.session->current()->number == step + 1);
  bench.run_to_end();
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::pass);
  for (const Finding& finding : bench.session->verdict()->findings)
    if (finding.expected.pair == Pair{"L1", "CASE"}) CHECK(finding.witness == Witness::stated);
}

TEST_CASE("an open reading is witnessed by a finite one at another position of the same placement") {
  ImaginedBench bench{true};
  bench.begin().start();
  bench.run_to_end();
  REQUIRE(bench.session->verdict());
  for (const Finding& finding : bench.session->verdict()->findings)
    if (finding.expected.pair == Pair{"L1", "H1"} && finding.expected.position == "off")
      CHECK(finding.witness == Witness::witnessed);
}

TEST_CASE("what is kept is what the meter shows at the confirmation and not what it showed before") {
  ImaginedBench bench{true};
  bench.begin().start();
  bench.run_to(StepKind::measure, "L1-H1", "low");
  bench.touching = false;
  bench.listen(3);
  CHECK(bench.last<Settled>()->indication.state == ReadingState::over_range);
  bench.touching = true;
  bench.listen(0.2);
  CHECK(std::holds_alternative<Unsettled>(bench.log.back()));
  bench.session->confirm();
  CHECK(bench.last<Note>()->kind == "not-settled");
  bench.listen(3);
  bench.session->confirm();
  CHECK(bench.last<Kept>()->indication.state == ReadingState::finite);
}

TEST_CASE("a skipped step needs a reason and leaves the verdict undecided") {
  ImaginedBench bench{true};
  bench.begin().start();
  bench.run_to(StepKind::measure, "L1-H1", "low");
  const int step = bench.session->current()->number;
  bench.session->skip("");
  CHECK(bench.session->current()->number == step);
  bench.session->skip("terminal is broken off");
  CHECK(bench.session->current()->number == step + 1);
  bench.run_to_end();
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::undecided);
  CHECK(bench.session->verdict()->not_measured.size() == 1);
}

TEST_CASE("safety steps cannot be skipped") {
  ImaginedBench bench{true};
  bench.begin().start();
  bench.run_to(StepKind::absence);
  const int step = bench.session->current()->number;
  bench.session->skip("no time");
  CHECK(bench.session->current()->number == step);
  CHECK(bench.last<Note>()->kind == "cannot-skip");
}

TEST_CASE("a placement that is started again forgets what was read before the probe slipped") {
  ImaginedBench bench{true};
  bench.begin().start();
  bench.run_to(StepKind::measure, "L1-H1", "low");
  const std::size_t kept = bench.count<Kept>();
  bench.session->reseat();
  CHECK(bench.session->current()->arrangement.pair == Pair{"L1", "H1"});
  bench.run_to_end();
  CHECK(bench.session->verdict()->outcome == Outcome::pass);
  CHECK(bench.count<Kept>() > kept);
}

TEST_CASE("a resumed session repeats the safety steps and measures only what is missing") {
  ImaginedBench first{true};
  first.begin().start();
  Record record;
  first.run_to(StepKind::measure, "L1-H1", "low");
  first.session->stop();
  CHECK(first.session->stopped_kind() == "operator");
  std::size_t measured = 0;
  for (const Event& event : first.log) {
    if (const auto* shown = std::get_if<StepShown>(&event))
      record.steps.push_back({shown->step.number,
                              to_string(shown->step.kind),
                              shown->step.arrangement.pair.first(),
                              shown->step.arrangement.pair.second(),
                              shown->step.arrangement.position,
                              "",
                              {},
                              shown->placement});
    if (const auto* kept = std::get_if<Kept>(&event)) {
      record.indications.push_back(
          {kept->step.number, kept->attempt, kept->indication, kept->contact_stated, kept->placement});
      measured += kept->step.kind == StepKind::measure;
    }
  }

  ImaginedBench second{true};
  second.begin();
  second.session->resume(record);
  second.session->start();
  second.run_to_end();
  REQUIRE(second.session->verdict());
  CHECK(second.session->verdict()->outcome == Outcome::pass);
  CHECK(second.session->verdict()->findings.size() == 60);
  std::size_t again = 0;
  bool proved = false;
  for (const Event& event : second.log)
    if (const auto* kept = std::get_if<Kept>(&event)) {
      again += kept->step.kind == StepKind::measure;
      proved = proved || kept->step.kind == StepKind::prove_meter;
    }
  ImaginedBench whole{true};
  whole.begin().start();
  whole.run_to_end();
  std::size_t all = 0;
  for (const Event& event : whole.log)
    if (const auto* kept = std::get_if<Kept>(&event)) all += kept->step.kind == StepKind::measure;
  CHECK(again == all - measured);
  CHECK(proved);
}

TEST_CASE("a reading in the wrong function is refused with the next step") {
  ImaginedBench bench;
  bench.begin().start();
  for (int i = 0; i < 500 && bench.session->current()->kind != StepKind::measure; ++i) bench.listen(0.2);
  Reading wrong;
  wrong.quantity = Quantity::voltage_dc;
  wrong.value = 0.0;
  wrong.at = bench.clock.now();
  bench.session->on_reading(wrong);
  REQUIRE(bench.last<ReadingTaken>());
  CHECK(bench.last<ReadingTaken>()->refused.find("ohms") != std::string::npos);
}

TEST_CASE("the verdict line of the JSON stream has the agreed shape") {
  ImaginedBench bench{false, {"stuck-closed:cycling"}};
  bench.begin().start();
  bench.listen(1000);
  const auto json = nlohmann::json::parse(to_json(*bench.last<VerdictReached>(), bench.clock.now()));
  CHECK(json["type"] == "verdict");
  CHECK(json["verdict"] == "fail");
  CHECK(json["record"] == "imagined-1");
  REQUIRE(json["deviations"].size() >= 1);
  const auto& first = json["deviations"][0];
  for (const char* key : {"position", "pair", "kind", "severity", "value_ohm", "U_ohm", "expected"}) {
    CAPTURE(key);
    CHECK(first.contains(key));
  }
  CHECK(first["expected"].contains("min_ohm"));
  CHECK(!first["expected"].contains("max_ohm"));
}

TEST_CASE("every event becomes one line of JSON with a type") {
  ImaginedBench bench;
  bench.begin().start();
  bench.listen(1000);
  std::set<std::string> types;
  for (const Event& event : bench.log) {
    const std::string line = to_json(event, bench.clock.now());
    CHECK(line.find('\n') == std::string::npos);
    types.insert(nlohmann::json::parse(line).at("type").get<std::string>());
  }
  for (const char* type :
       {"session", "step", "reading", "settled", "judged", "kept", "acknowledged", "answered", "verdict"}) {
    CAPTURE(type);
    CHECK(types.contains(type));
  }
}
