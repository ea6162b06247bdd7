// The guided part under power, on an imagined bench whose volts come from the profile's own network with faults in it.
#include <doctest/doctest.h>

#include <algorithm>
#include <limits>
#include <nlohmann/json.hpp>

#include "imagined_bench.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;
using switchwright::testing::ImaginedBench;

namespace {

SessionSettings powered(PoweredPart part) {
  SessionSettings settings;
  settings.powered = part;
  settings.energised_by = "tester";
  if (part == PoweredPart::only) settings.cold = ColdProof{"cold-1", "Energised on the word of record cold-1."};
  return settings;
}

std::vector<StepKind> kinds_shown(const ImaginedBench& bench) {
  std::vector<StepKind> order;
  for (const Event& event : bench.log)
    if (const auto* shown = std::get_if<StepShown>(&event))
      if (order.empty() || order.back() != shown->step.kind) order.push_back(shown->step.kind);
  return order;
}

}  // namespace

TEST_CASE("a good switch passes without power and then under power and the supply ends switched off") {
  ImaginedBench bench;
  bench.begin(powered(PoweredPart::after_continuity)).start();
  bench.listen(1000);
  REQUIRE(bench.session->verdict());
  const Verdict& verdict = *bench.session->verdict();
  CHECK(verdict.outcome == Outcome::pass);
  CHECK(verdict.findings.size() == 60);
  CHECK(verdict.voltages.size() == 60);  // 15 pairs at four positions; what floats may at least not be live
  CHECK(verdict.supply.size() == 2);
  CHECK(bench.hands.was_powered);
  CHECK(!bench.hands.powered);
  const auto kinds = kinds_shown(bench);
  const std::vector<StepKind> last{StepKind::voltage,       StepKind::supply_off, StepKind::placed_dead,
                                   StepKind::supply_at_end, StepKind::supply_off, StepKind::placed_dead,
                                   StepKind::bond_at_end};
  REQUIRE(kinds.size() > last.size());
  CHECK(std::equal(last.rbegin(), last.rend(), kinds.rbegin()));
  const auto begins = std::find(kinds.begin(), kinds.end(), StepKind::leads_after);
  const std::vector<StepKind> first{StepKind::leads_after, StepKind::acknowledge, StepKind::placed_dead, StepKind::bond,
                                    StepKind::placed_dead, StepKind::supply_on,   StepKind::voltage};
  REQUIRE(kinds.end() - begins > static_cast<std::ptrdiff_t>(first.size()));
  CHECK(std::equal(first.begin(), first.end(), begins));
}

TEST_CASE("the words for energised work are acknowledged and kept before the supply is on") {
  ImaginedBench bench;
  bench.begin(powered(PoweredPart::only)).start();
  REQUIRE(bench.last<Acknowledged>());
  const Acknowledgement& given = bench.last<Acknowledged>()->acknowledgement;
  CHECK(given.what == "energised");
  CHECK(given.who == "tester");
  // What DESIGN and the issue ask for: qualified persons, protected supply, fused leads, category, cover, vents.
  for (const char* word : {"qualified", "isolating transformer", "RCD", "GFCI", "fused", "IEC 61010-2-033", "cover",
                           "vents", "licensed practice"}) {
    CAPTURE(word);
    CHECK(given.text.find(word) != std::string::npos);
  }
}

TEST_CASE("nothing is energised before somebody acknowledges") {
  ImaginedBench bench{true};
  SessionSettings settings = powered(PoweredPart::only);
  settings.energised_by.reset();
  bench.begin(settings).start();
  bench.listen(30);
  bench.session->confirm();
  bench.session->skip("no time");
  CHECK(bench.session->current()->kind == StepKind::acknowledge);
  CHECK(!bench.hands.was_powered);
}

TEST_CASE("a part that does not pass without power is not energised") {
  ImaginedBench bench{false, {"stuck-closed:cycling"}};
  bench.begin(powered(PoweredPart::after_continuity)).start();
  bench.listen(1000);
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::fail);
  CHECK(!bench.session->verdict()->has_powered_part());
  CHECK(!bench.hands.was_powered);
  CHECK(bench.last<Note>()->kind == "not-energised");
}

// What each fault does to the volts, by the wiring of the profile: L1 and L2 are the legs, H1 and H2 the load, P the
// lamp's terminal (lamp to L2).
TEST_CASE("each fault shows under power where the wiring says") {
  struct Row {
    const char* fault;
    const char* position;
    Pair pair;
    DeviationKind kind;
    Severity severity;
  };
  const Row rows[] = {
      {"stuck-closed:cycling", "off", {"H1", "CASE"}, DeviationKind::live, Severity::critical},
      {"stuck-closed:line", "off", {"H2", "CASE"}, DeviationKind::live, Severity::critical},
      {"stuck-open:line", "high", {"H1", "H2"}, DeviationKind::dead, Severity::major},
      {"stuck-open:line", "low", {"L1", "H1"}, DeviationKind::live, Severity::major},
      {"stuck-open:cycling", "high", {"H1", "H2"}, DeviationKind::dead, Severity::major},
      {"stuck-open:pilot", "low", {"P", "L2"}, DeviationKind::dead, Severity::major},
      {"stuck-closed:pilot", "off", {"P", "L2"}, DeviationKind::live, Severity::major},
      // 240 V over 5 ohm and 24 ohm (beside 14400): 41 V stay in the contact, 199 V reach the load.
      {"resistive:line=5", "high", {"H1", "H2"}, DeviationKind::low_voltage, Severity::major},
      {"resistive:line=5", "high", {"L1", "H1"}, DeviationKind::high_resistance, Severity::major},
  };
  for (const Row& row : rows) {
    CAPTURE(row.fault);
    CAPTURE(row.pair.text());
    ImaginedBench bench{false, {row.fault}};
    bench.begin(powered(PoweredPart::only)).start();
    bench.listen(1000);
    REQUIRE(bench.session->verdict());
    CHECK(bench.session->verdict()->outcome == Outcome::fail);
    CHECK(!bench.hands.powered);
    bool found = false;
    for (const VoltageFinding* finding : bench.session->verdict()->voltage_deviations())
      if (finding->expected.position == row.position && finding->expected.pair == row.pair) {
        found = true;
        CHECK(to_string(*finding->kind) == to_string(row.kind));
        CHECK(finding->severity == row.severity);
      }
    CHECK(found);
  }
}

TEST_CASE("a supply outside its range judges no part and is asked to be switched off") {
  for (const double supply_v : {0.0, 208.0, 277.0}) {
    CAPTURE(supply_v);
    ImaginedBench bench;
    bench.supply_v = supply_v;
    bench.begin(powered(PoweredPart::only)).start();
    bench.listen(1000);
    CHECK(bench.session->stopped_kind() == "supply");
    REQUIRE(bench.session->verdict());
    CHECK(bench.session->verdict()->outcome == Outcome::undecided);
    CHECK(!bench.hands.powered);
  }
}

TEST_CASE("a person with a wrong supply is told and stays at the step") {
  ImaginedBench bench{true};
  bench.supply_v = 208;
  bench.begin(powered(PoweredPart::only)).start();
  bench.run_to(StepKind::supply_on);
  bench.confirm_when_settled();
  CHECK(bench.session->current()->kind == StepKind::supply_on);
  CHECK(bench.last<Note>()->kind == "supply");
  bench.supply_v = 240;
  bench.confirm_when_settled();
  CHECK(bench.session->current()->kind == StepKind::voltage);
  bench.run_to_end();
  CHECK(bench.session->verdict()->outcome == Outcome::pass);
}

TEST_CASE("without a record that passed without power nothing is energised") {
  ImaginedBench bench;
  SessionSettings settings = powered(PoweredPart::only);
  settings.cold.reset();
  CHECK_THROWS_AS(bench.begin(settings), Error);
}

TEST_CASE("a part that is energised on the word of a record is proven dead first") {
  ImaginedBench bench;
  bench.begin(powered(PoweredPart::only)).start();
  bench.listen(2000);
  const auto kinds = kinds_shown(bench);
  REQUIRE(kinds.size() > 4);
  CHECK(kinds[0] == StepKind::acknowledge);
  CHECK(kinds[1] == StepKind::prove_meter);
  CHECK(kinds[2] == StepKind::absence);
  CHECK(kinds[3] == StepKind::prove_meter_again);
}

TEST_CASE("volts on the part before the supply is on end the work and nothing is energised") {
  ImaginedBench bench;
  bench.volts_on_part = 120;
  bench.begin(powered(PoweredPart::only)).start();
  bench.listen(1000);
  CHECK(bench.session->ended());
  CHECK(!bench.hands.was_powered);
}

TEST_CASE("metal that is not bonded to earth is not energised") {
  for (const double ohm : {1.0, 20.0, std::numeric_limits<double>::infinity()}) {
    CAPTURE(ohm);
    ImaginedBench bench;
    bench.bond_ohm = ohm;
    bench.begin(powered(PoweredPart::after_continuity)).start();
    bench.listen(1000);
    CHECK(bench.session->stopped_kind() == "bond");
    REQUIRE(bench.session->verdict());
    CHECK(bench.session->verdict()->outcome == Outcome::undecided);
    CHECK(!bench.hands.was_powered);
  }
}

TEST_CASE("a bond that is lost while the part is live leaves it undecided") {
  ImaginedBench bench;
  bench.begin(powered(PoweredPart::only)).start();
  for (int i = 0; i < 20000 && bench.session->current() && bench.session->current()->kind != StepKind::supply_at_end;
       ++i)
    bench.listen(0.2);
  bench.bond_ohm = 20;
  bench.listen(100);
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::undecided);
}

// The supply goes and does not come back, or comes back, at every stage of the work: never a pass, never a fail.
TEST_CASE("a supply that is lost under way judges no part") {
  for (const int after_voltages : {0, 1, 3, 8, 20, 41, 59}) {
    CAPTURE(after_voltages);
    ImaginedBench bench;
    bench.begin(powered(PoweredPart::only)).start();
    int kept = 0;
    bench.events.subscribe([&](const Event& event, Instant) {
      if (const auto* one = std::get_if<Kept>(&event); one && one->step.kind == StepKind::voltage)
        if (++kept == after_voltages) bench.supply_v = 0;
      if (const auto* shown = std::get_if<StepShown>(&event); shown && shown->step.kind == StepKind::voltage)
        if (after_voltages == 0) bench.supply_v = 0;
    });
    bench.listen(2000);
    REQUIRE(bench.session->verdict());
    CHECK(bench.session->verdict()->outcome == Outcome::undecided);
    CHECK(!bench.hands.powered);
  }
}

TEST_CASE("a probe off the metal at any pair is no pass and no fail") {
  for (const int at_placement : {1, 4, 9, 14}) {
    CAPTURE(at_placement);
    ImaginedBench bench{true};
    bench.begin(powered(PoweredPart::only)).start();
    int placements = 0;
    bench.events.subscribe([&](const Event& event, Instant) {
      if (const auto* shown = std::get_if<StepShown>(&event); shown && shown->step.kind == StepKind::placed_dead)
        bench.touching = ++placements != at_placement + 2;
    });
    for (int i = 0; i < 2000 && !bench.session->ended(); ++i) {  // a person who presses the key and looks at nothing
      bench.listen(3.0);
      const Step* before = bench.session->current();
      if (before == nullptr) break;
      const int number = before->number;
      bench.session->confirm();
      if (bench.session->current() && bench.session->current()->number == number) {
        const Settled* settled = bench.last<Settled>();
        if (settled && settled->needs_contact_statement && !bench.touching)
          bench.session->skip("cannot say that they touch");
        else if (settled && settled->needs_contact_statement)
          bench.session->state_contact();
        else
          bench.session->stop();  // told to put something right
      }
    }
    CHECK((!bench.session->verdict() || bench.session->verdict()->outcome == Outcome::undecided));
  }
}

TEST_CASE("a session stopped under power asks for the supply to be switched off") {
  ImaginedBench bench;
  bench.begin(powered(PoweredPart::only)).start();
  for (int i = 0; i < 500 && bench.session->current()->kind != StepKind::voltage; ++i) bench.listen(0.2);
  CHECK(bench.hands.powered);
  bench.session->stop();
  CHECK(!bench.hands.powered);
  CHECK(bench.session->stopped_text().find("switch it off") != std::string::npos);
}

TEST_CASE("probes move with the supply off unless live moves are chosen, and then once for each pair") {
  for (const bool live : {false, true}) {
    CAPTURE(live);
    ImaginedBench bench;
    SessionSettings settings = powered(PoweredPart::only);
    settings.live_moves = live;
    bench.begin(settings).start();
    bench.listen(2000);
    REQUIRE(bench.session->verdict());
    CHECK(bench.session->verdict()->outcome == Outcome::pass);
    CHECK(!bench.hands.powered);
    CHECK(bench.hands.live_moves == (live ? 15 : 0));  // 15 pairs, and back to the supply
  }
}

TEST_CASE("at each pair all positions are read before the probes move") {
  ImaginedBench bench;
  bench.begin(powered(PoweredPart::only)).start();
  bench.listen(2000);
  std::vector<Pair> pairs;
  for (const Event& event : bench.log)
    if (const auto* shown = std::get_if<StepShown>(&event); shown && shown->step.kind == StepKind::voltage)
      if (pairs.empty() || !(pairs.back() == shown->step.arrangement.pair))
        pairs.push_back(shown->step.arrangement.pair);
  CHECK(pairs.size() == 15);
  CHECK(pairs.front() == Pair{"L1", "L2"});  // what says whether the supply is right comes first
}

TEST_CASE("voltages in the JSON stream have volts and bands") {
  ImaginedBench bench{false, {"stuck-open:line"}};
  bench.begin(powered(PoweredPart::only)).start();
  bench.listen(1000);
  const auto json = nlohmann::json::parse(to_json(*bench.last<VerdictReached>(), bench.clock.now()));
  REQUIRE(json["deviations"].size() >= 1);
  for (const auto& deviation : json["deviations"])
    for (const char* key : {"position", "pair", "kind", "severity", "value_v", "U_v"}) {
      CAPTURE(key);
      CHECK(deviation.contains(key));
    }
  CHECK(json["deviations"][0]["expected"].contains("max_v"));
  CHECK(json["supply"].size() == 2);
  CHECK(json["voltages"] == 60);
}

namespace {

/// What the store would hold of a sitting.
Record record_of(const ImaginedBench& bench) {
  Record record;
  for (const Event& event : bench.log) {
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
      if (kept->step.kind == StepKind::leads_before) record.leads_before = kept->indication;
      if (kept->step.kind == StepKind::leads_after) record.leads_after = kept->indication;
    }
  }
  return record;
}

}  // namespace

TEST_CASE("a sitting resumed under power begins with the acknowledgement and the supply") {
  for (const PoweredPart part : {PoweredPart::only, PoweredPart::after_continuity}) {
    ImaginedBench first;
    first.begin(powered(part)).start();
    for (int i = 0; i < 5000 && first.session->current()->kind != StepKind::voltage; ++i) first.listen(0.2);
    first.listen(30.0);
    first.session->stop();
    const Record record = record_of(first);

    ImaginedBench second{true};
    SessionSettings settings = powered(part);
    settings.energised_by.reset();
    settings.inspection = true;
    second.begin(settings);
    second.session->resume(record);
    second.session->start();
    second.run_to(StepKind::acknowledge);
    REQUIRE(second.session->current());
    CHECK(second.session->current()->acknowledges == "energised");
    CHECK(!second.hands.was_powered);
    second.session->confirm();
    CHECK(second.session->current()->kind == StepKind::acknowledge);
    second.session->acknowledge("tester", "typed at the terminal");
    CHECK(second.session->current()->kind ==
          (part == PoweredPart::only ? StepKind::prove_meter : StepKind::placed_dead));
    second.run_to(StepKind::supply_on);
    second.run_to_end();
    REQUIRE(second.session->verdict());
    CHECK(second.session->verdict()->outcome == Outcome::pass);
    CHECK(second.session->verdict()->voltages.size() == 60);
    CHECK(second.session->verdict()->supply.size() == 2);
    CHECK(std::any_of(second.session->verdict()->remarks.begin(), second.session->verdict()->remarks.end(),
                      [](const std::string& remark) {
                        return remark.find("earlier sitting; its supply read 240.0 V") != std::string::npos;
                      }));
    std::size_t again = 0;
    for (const Event& event : second.log)
      if (const auto* kept = std::get_if<Kept>(&event)) again += kept->step.kind == StepKind::voltage;
    CHECK(again < 60);
  }
}

TEST_CASE("a part whose readings of an earlier sitting fail is not energised by resuming") {
  ImaginedBench first{false, {"stuck-closed:cycling"}};
  first.begin(powered(PoweredPart::after_continuity)).start();
  first.listen(1000);
  Record record = record_of(first);
  record.verdict.reset();  // the power went just before the verdict was kept

  ImaginedBench second;
  SessionSettings settings = powered(PoweredPart::after_continuity);
  settings.inspection = true;
  second.begin(settings);
  second.session->resume(record);
  second.session->start();
  second.listen(1000);
  REQUIRE(second.session->verdict());
  CHECK(second.session->verdict()->outcome == Outcome::fail);
  CHECK(!second.hands.was_powered);
}

TEST_CASE("the steps to come fall to those without power once a reading fails") {
  ImaginedBench bench{false, {"stuck-closed:cycling"}};
  bench.begin(powered(PoweredPart::after_continuity)).start();
  bench.listen(1000);
  int at_first = 0, at_last = 0, last_step = 0;
  for (const Event& event : bench.log)
    if (const auto* shown = std::get_if<StepShown>(&event)) {
      if (at_first == 0) at_first = shown->of;
      at_last = shown->of;
      last_step = shown->step.number;
    }
  CHECK(at_first > at_last);
  CHECK(at_last == last_step);
}

TEST_CASE("what is wrong with the supply is told once") {
  ImaginedBench bench;
  bench.supply_v = 208;
  bench.begin(powered(PoweredPart::only)).start();
  bench.listen(1000);
  REQUIRE(bench.session->verdict());
  const Verdict& verdict = *bench.session->verdict();
  CHECK(verdict.headline.find("208") != std::string::npos);
  CHECK(verdict.headline.find("switch it off") != std::string::npos);
  for (const std::string& remark : verdict.remarks) {
    CAPTURE(remark);
    CHECK(remark.find("208") == std::string::npos);
  }
}
