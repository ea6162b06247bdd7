// The session beside qualification: learning, which judges nothing, and the millivolt drop of closed
// contacts.
#include <doctest/doctest.h>

#include <filesystem>

#include "imagined_bench.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/bench/learning.hpp"
#include "switchwright/bench/recorder.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;
using namespace switchwright::testing;

namespace {

/// A bench for the drop: the meter shows what U = I R gives.
struct DropBench : ImaginedBench {
  explicit DropBench(bool person) : ImaginedBench(person) {
    meter.accuracy.push_back({Quantity::voltage_dc, 0.4, 1e-4, 0.5, 2});  // invented
    meter.accuracy.push_back({Quantity::voltage_dc, 40, 1e-2, 0.5, 2});
  }
  QualifySession& begin(double amps, bool reversed = false) {
    SessionSettings settings;
    settings.drop = DropTask{{amps, 0.01 * amps}, "high", reversed};
    settings.acknowledged_by = "tester";
    return ImaginedBench::begin(settings);
  }
  /// Begun, with a display that is seen to follow: nothing flows with one clip free.
  void start(bool reversed = false) {
    begin(1.0, reversed).start();
    type("0.00 A");
  }
  void type(const std::string& shown) {
    session->type_reading(shown);
    session->confirm();
  }
  void show(double volt, double seconds = 4.0) {
    Reading r;
    r.quantity = Quantity::voltage_dc;
    r.value = volt;
    r.resolution = 1e-4;
    for (int i = 0; i < seconds * 5 && !session->ended(); ++i) {
      clock.advance(std::chrono::milliseconds{200});
      r.at = clock.now();
      session->on_reading(r);
      session->on_tick();
    }
  }
};

struct StoreFile {
  std::filesystem::path path = std::filesystem::temp_directory_path() / "switchwright-guided-session-test.sqlite";
  StoreFile() { remove(); }
  ~StoreFile() { remove(); }
  void remove() const {
    for (const char* ending : {"", "-wal", "-shm"}) std::filesystem::remove(path.string() + ending);
  }
};

}  // namespace

TEST_CASE("each closed contact is judged by the change that the current makes") {
  DropBench bench(true);
  bench.start();
  int contacts = 0;
  while (!bench.session->ended()) {
    const Step step = *bench.session->current();
    if (step.kind == StepKind::drop_current) {
      CHECK(step.arrangement.current == CurrentSwitch::on);
      bench.type("1,00 A");
      continue;
    }
    CHECK(step.arrangement.dial == Quantity::voltage_dc);
    const bool on = step.kind == StepKind::drop;
    CHECK(step.arrangement.current == (on ? CurrentSwitch::on : CurrentSwitch::off));
    if (on) CHECK(step.instruction.find("1 A") != std::string::npos);
    const double drop_v = step.arrangement.pair == Pair{"L2", "H2"} ? 0.250 : 0.020;
    bench.show(0.0004 + (on ? drop_v : 0.0));  // 0.4 mV stand there always
    bench.session->confirm();
    if (step.kind != StepKind::drop_zero_after) continue;
    REQUIRE(++contacts <= 3);
    const Kept* kept = bench.last<Kept>();
    REQUIRE(kept->drop);
    CHECK(kept->drop->drop.ohm == doctest::Approx(drop_v).epsilon(1e-6));
    CHECK(kept->drop->drop.zero_v == doctest::Approx(0.0004));
  }
  CHECK(contacts == 3);
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::fail);
  CHECK(bench.session->verdict()->headline.find("2 of 3 contacts sound by their millivolt drop at 1 A") !=
        std::string::npos);
  // Joule's law: 15 A squared times 0.25 ohm.
  CHECK(bench.session->verdict()->deviations().at(0)->sentence.find("56.2 W") != std::string::npos);
}

TEST_CASE("a drop that failed is not made sound by measuring the contact again") {
  DropBench bench(true);
  bench.start();
  bool again = false;
  while (!bench.session->ended()) {
    const Step step = *bench.session->current();
    if (step.kind == StepKind::drop_current) {
      bench.type("1 A");
      continue;
    }
    const bool bad = step.arrangement.pair == Pair{"L1", "H1"} && !again;
    bench.show(step.kind == StepKind::drop ? (bad ? 0.250 : 0.020) : 0.0);
    bench.session->confirm();
    if (!bad || step.kind != StepKind::drop_zero_after) continue;
    CHECK(bench.last<Kept>()->drop->drop.outcome == Outcome::fail);
    again = true;
    bench.session->back();
    bench.session->reseat();
    CHECK(bench.session->current()->kind == StepKind::drop_zero);
  }
  CHECK(again);
  CHECK(bench.session->verdict()->outcome == Outcome::undecided);
  CHECK(bench.session->verdict()->findings.at(0).sentence.find("had failed before") != std::string::npos);
}

TEST_CASE("no change with the current is no current and no statement makes it one") {
  for (const double always_v : {0.0, 0.0003, -0.0012}) {
    CAPTURE(always_v);
    DropBench bench(true);
    bench.start();
    bench.show(always_v);
    bench.session->confirm();
    bench.show(always_v);
    bench.session->confirm();
    CHECK(bench.count<Kept>() == 2);  // what the display shows with one clip free, and the zero
    CHECK(bench.last<Note>()->kind == "no-current");
    bench.session->state_contact();
    CHECK(bench.count<Kept>() == 2);
  }
}

TEST_CASE("a supply that is not off is no zero") {
  DropBench bench(true);
  bench.start();
  bench.show(0.020);
  bench.session->confirm();
  CHECK(bench.count<Kept>() == 1);
  CHECK(bench.last<Note>()->kind == "not-zero");
}

TEST_CASE("a reversed check is judged only when both directions and both zeros are read") {
  DropBench bench(true);
  bench.start(true);
  bench.show(0.0012);
  bench.session->confirm();
  bench.show(0.0212);
  CHECK_FALSE(bench.last<Settled>()->outlook);
  bench.session->confirm();
  bench.type("1.00 A");
  CHECK_FALSE(bench.last<Kept>()->drop);
  CHECK(bench.session->current()->kind == StepKind::drop_reversed);
  bench.show(-0.0188);
  bench.session->confirm();
  bench.show(0.0012);
  bench.session->confirm();
  REQUIRE(bench.last<Kept>()->drop);
  // Half the difference is the drop, half the sum the thermal voltage (ASTM B539).
  CHECK(bench.last<Kept>()->drop->drop.drop_v == doctest::Approx(0.020));
  CHECK(*bench.last<Kept>()->drop->drop.thermal_v == doctest::Approx(0.0012));
}

TEST_CASE("the same voltage both ways is no drop of nothing") {
  DropBench bench(true);
  bench.start(true);
  bench.show(0.0);
  bench.session->confirm();
  bench.show(0.250);
  bench.session->confirm();
  bench.type("1.00 A");
  for (const double wrong_v : {0.250, 0.0}) {  // the clips were not exchanged; the supply was left off
    bench.show(wrong_v);
    bench.session->confirm();
    CHECK(bench.count<Kept>() == 4);
    CHECK(bench.last<Note>()->kind == "not-reversed");
  }
  bench.show(-0.250);
  bench.session->confirm();
  bench.show(0.0);
  bench.session->confirm();
  REQUIRE(bench.last<Kept>()->drop);
  CHECK(bench.last<Kept>()->drop->drop.outcome == Outcome::fail);
}

TEST_CASE("a current that cannot decide is refused before the work and a strange voltage stops it") {
  DropBench bench(true);
  CHECK_THROWS_AS(bench.begin(0.002), Error);
  bench.begin(1.0).start();
  bench.show(24.0);
  CHECK(bench.session->ended());
  CHECK(bench.session->stopped_kind() == "volts-present");
}

TEST_CASE("what the supply's display shows is read from it, meter or no meter, and put right before it is kept") {
  DropBench bench(true);
  bench.begin(1.0).start();
  CHECK(bench.session->readings_are_typed());
  bench.show(0.0);  // the meter's own volts are not what this step reads
  CHECK(bench.count<Settled>() == 0);
  bench.type("1.00 A");
  CHECK(bench.last<Note>()->text.find("it shows what is set, or is off by that") != std::string::npos);
  bench.session->type_reading("one");
  CHECK(bench.last<Note>()->kind == "not-a-reading");
  bench.session->type_reading("0.02 V");
  CHECK(bench.last<Note>()->kind == "not-a-reading");
  CHECK(bench.count<Kept>() == 0);
  bench.type("10 mA");
  CHECK(bench.count<Kept>() == 1);
  bench.show(0.0);
  bench.session->confirm();
  bench.show(0.018);  // 60 mohm, at 300 mA
  bench.session->confirm();
  bench.type("0.30 A");
  CHECK(bench.last<Note>()->text.find("0.3 A is not 1 A") != std::string::npos);
  CHECK(bench.session->current()->kind == StepKind::drop_current);
}

TEST_CASE("a current that nobody reads finds no contact sound and says what to do") {
  for (const bool free_read : {false, true}) {
    CAPTURE(free_read);
    DropBench bench(true);
    bench.begin(1.0).start();
    if (free_read)
      bench.type("0 A");
    else
      bench.session->skip("no display");
    while (!bench.session->ended()) {
      const StepKind kind = bench.session->current()->kind;
      if (kind == StepKind::drop_current) {
        free_read ? bench.session->skip("out of sight") : bench.type("1 A");
        continue;
      }
      bench.show(kind == StepKind::drop ? 0.020 : 0.0);
      bench.session->confirm();
    }
    CHECK(bench.session->verdict()->outcome == Outcome::undecided);
    for (const Finding& finding : bench.session->verdict()->findings)
      CHECK(finding.sentence.find("ammeter in series") != std::string::npos);
  }
}

TEST_CASE("a contact that is left out makes the check undecided and is named") {
  DropBench bench(true);
  bench.start();
  bench.session->skip("a broken tab");
  while (!bench.session->ended()) {
    if (bench.session->current()->kind == StepKind::drop_current) bench.type("1 A");
    if (bench.session->ended()) break;
    bench.show(bench.session->current()->kind == StepKind::drop ? 0.020 : 0.0);
    bench.session->confirm();
  }
  CHECK(bench.session->verdict()->outcome == Outcome::undecided);
  CHECK(bench.session->verdict()->not_measured.size() == 1);
}

TEST_CASE("learning reads everything, judges nothing and skips nothing") {
  ImaginedBench bench(true);
  LearnSubject subject;
  subject.title = "a part";
  subject.terminals = bench.profile.terminals;
  subject.exposed_metal = bench.profile.exposed_metal;
  for (const Position& position : bench.profile.positions) subject.positions.push_back(position.id);
  const Profile truth = bench.profile;

  const StoreFile file;
  Store store{file.path};
  RecordHeader header;
  header.kind = RecordKind::learn;
  bench.meter = load_meter_definition("lcd-segment-14", {{std::string{SOURCE_DIR} + "/meters"}});
  header.meter_id = bench.meter.id;
  header.meter_text = bench.meter.source_text;
  bench.header.id = store.begin(header);
  Batch setup;
  setup.results.push_back(result_of(subject));
  store.append(bench.header.id, setup);
  Recorder recorder{store, bench.header.id, bench.events};

  const Profile nothing = provisional_profile(subject);
  SessionSettings settings;
  settings.measure_only = true;
  settings.acknowledged_by = "tester";
  bench.session.emplace(
      nothing, bench.meter, settings, bench.header, bench.clock, bench.hands, [](Quantity) {}, bench.events);
  bench.session->start();
  bench.run_to(StepKind::measure);
  bench.session->skip("no time");
  CHECK(bench.last<Note>()->kind == "cannot-skip");
  bench.run_to_end();
  recorder.close();
  CHECK(bench.session->completed());
  CHECK_FALSE(bench.session->verdict());
  CHECK(bench.count<VerdictReached>() == 0);
  REQUIRE(bench.last<Completed>());
  CHECK(bench.last<Completed>()->readings == 60);
  for (const Event& event : bench.log)
    if (const auto* kept = std::get_if<Kept>(&event)) CHECK_FALSE(kept->finding);

  const Record record = store.load(bench.header.id);
  REQUIRE(is_all_read(record));
  CHECK(subject_of(record).positions == subject.positions);
  const LearnedProfile learned = learn_from(record, "learned.toml");
  CHECK(learned.doubtful.empty());
  CHECK(learned.part.learned.contacts.size() == truth.contacts.size());
  CHECK(parse_profile(learned.part.profile, "learned.toml").elements.size() == 1);

  // One pair is to be read again: the rest stays.
  const Record without = without_pairs(record, {{"L1", "H1"}});
  CHECK_FALSE(is_all_read(without));
  CHECK(measured_in(without).size() == 56);
  CHECK_THROWS_AS(learn_readings(without), Error);
}

TEST_CASE("placements are told apart when a record is read back") {
  Record record;
  const auto read = [&](int step, const char* kind, const Pair& pair, const char* position, bool over_range,
                        bool stated = false) {
    record.steps.push_back({step, kind, pair.first(), pair.second(), position, "", {}});
    IndicationRow row{step, 1, {}, stated};
    if (over_range) row.indication.state = ReadingState::over_range;
    record.indications.push_back(row);
  };
  read(1, "measure", {"A", "B"}, "off", true);
  read(2, "measure", {"A", "B"}, "on", false);
  read(3, "leads-before", {}, "", false);  // another sitting
  read(4, "measure", {"A", "B"}, "low", true);
  read(5, "measure", {"A", "C"}, "off", true);
  read(6, "measure", {"A", "C"}, "on", true, true);  // stated at the last position, of all of them
  read(7, "measure", {"A", "C"}, "on", true);        // again: a probe may have slipped
  const auto measured = measured_in(record);
  REQUIRE(measured.size() == 6);
  const std::vector<int> placements{1, 1, 2, 3, 3, 4};
  for (std::size_t i = 0; i < placements.size(); ++i) CHECK(measured[i].placement == placements[i]);
  CHECK(measured[3].contact_stated);
  CHECK_FALSE(measured[5].contact_stated);
  CHECK_FALSE(measured[2].contact_stated);
}
