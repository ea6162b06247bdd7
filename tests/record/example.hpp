// A made-up record for tests: a two-pole regulator with its heater across the load, measured on a made-up
// meter.
#pragma once

#include <sys/types.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <string>

#include "switchwright/record/store.hpp"

namespace example {

using namespace switchwright;
using namespace std::chrono_literals;

/// A folder of its own, gone afterwards.
class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "switchwright-test-XXXXXX").string();
    path_ = ::mkdtemp(name.data());
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

inline const Wall start = parse_iso8601("2026-03-01T09:15:02.250Z");

/// `seconds` after the start of the record, on a machine that has been up for a day.
inline Instant at(double seconds) {
  return {Monotonic{24h} + std::chrono::duration_cast<Monotonic::duration>(from_seconds(seconds)),
          start + std::chrono::duration_cast<Wall::duration>(from_seconds(seconds))};
}

inline RecordHeader header() {
  RecordHeader header;
  header.started = start;
  header.tool_version = "0.1.0";
  header.operator_name = "Operator One";
  header.part = "made-up regulator";
  header.serial = "0001";
  header.profile_id = "regulator-shunt-240";
  header.profile_title = "Two-pole energy regulator";
  header.profile_values = "invented for demonstration";
  header.profile_text = "schema = 1\ntitle = \"Two-pole energy regulator\"\n";
  header.meter_id = "scpi";
  header.meter_title = "a meter that speaks SCPI";
  header.meter_text = "schema = 1\n";
  header.port = "/dev/ttyUSB0";
  header.hands = "person";
  header.rule = "guarded";
  return header;
}

inline Reading reading(double seconds, double ohm) {
  Reading reading;
  reading.value = ohm;
  reading.resolution = 0.1;
  reading.flags.autorange = true;
  reading.at = at(seconds);
  reading.raw = std::string("\x1b\x00\xff\r\n", 5);
  return reading;
}

inline Indication indication(double seconds, double ohm) {
  Indication indication;
  indication.value = ohm;
  indication.resolution = 0.1;
  indication.readings = 3;
  indication.from = at(seconds);
  indication.to = at(seconds + 0.75);
  return indication;
}

inline Indication over_range(double seconds) {
  Indication open = indication(seconds, 0.0);
  open.state = ReadingState::over_range;
  open.beyond = 40e6;
  return open;
}

/// What one settled indication writes: a step, three readings, the indication.
inline Batch step_batch(int step, double seconds, double ohm) {
  Batch batch;
  batch.steps.push_back(
      {step, "measure", "L1", "H1", "low", "Red probe on L1, black on H1, knob to low", at(seconds).wall});
  for (int i = 0; i < 3; ++i) batch.readings.push_back({step, reading(seconds + 0.25 * i, ohm)});
  batch.indications.push_back({step, 1, indication(seconds, ohm), false});
  return batch;
}

inline StatedResult stated() {
  return {"insulation", 5e8, ">", 5e7, "IT-7", "2027-01-31", "insulation=>500 Mohm", at(1.5).wall};
}

inline Verdict verdict() {
  Verdict verdict;
  verdict.outcome = Outcome::fail;
  verdict.headline = "The cycling contact stays closed";
  Finding bad;
  bad.expected.position = "off";
  bad.expected.pair = Pair("L2", "H2");
  bad.expected.state = PairState::open;
  bad.expected.ohm = {1e6, std::numeric_limits<double>::infinity()};
  bad.expected.can_make_live = true;
  bad.indication = indication(7.0, 0.4);
  bad.indication.flags.low_battery = true;
  bad.corrected = 0.3;
  bad.U = 0.25;
  bad.outcome = Outcome::fail;
  bad.kind = DeviationKind::stays_closed;
  bad.severity = Severity::critical;
  bad.witness = Witness::not_needed;
  bad.p_conform = 0.001;
  bad.sentence = "L2-H2 reads 0.3 ohm at off and should be open.";
  Finding good;
  good.expected.position = "low";
  good.expected.pair = Pair("L1", "P");
  good.expected.state = PairState::closed;
  good.expected.ohm = {0.0, 2.0};
  good.expected.nominal_ohm = 0.0;
  good.expected.sound_max_ohm = 0.1;
  good.indication = indication(8.0, 0.1);
  good.corrected = 0.0;
  good.U = 0.25;
  good.outcome = Outcome::pass;
  good.sound = Outcome::undecided;
  Finding open;
  open.expected.position = "off";
  open.expected.pair = Pair("L1", "CASE");
  open.expected.ohm = {1e6, std::numeric_limits<double>::infinity()};
  open.indication = over_range(9.0);
  open.outcome = Outcome::undecided;
  open.witness = Witness::missing;
  for (Finding* finding : {&bad, &good, &open}) finding->continuity = finding->outcome;
  verdict.findings = {bad, good, open};
  verdict.scope.fails(ScopePart::continuity, "1 of 3 readings deviates");
  verdict.scope.undecided(ScopePart::soundness, "U is 0.25 ohm at best", "Measure with four wires.");
  verdict.scope.passes(ScopePart::voltages, "all is well");
  verdict.required = {ScopePart::soundness};
  StatedFinding insulation;
  insulation.wanted = {
      "insulation", StatedQuantity::insulation_resistance, "all to CASE, 500 V DC", {}, {}, Severity::critical, true};
  insulation.wanted.limit.min = 1e6;
  insulation.result = stated();
  insulation.U = 5e7;
  insulation.outcome = Outcome::pass;
  insulation.sentence = "Stated: insulation is 500 Mohm.";
  verdict.stated = {insulation};
  InspectionFinding discoloured;
  discoloured.question = {"Terminals free of discolouration?", Severity::major};
  discoloured.answer = false;
  discoloured.note = "blue on H1";
  InspectionFinding unanswered;
  unanswered.question = {"Shaft firm?", Severity::minor};
  verdict.inspection.push_back(discoloured);
  verdict.inspection.push_back(unanswered);
  Expectation skipped;
  skipped.position = "high";
  skipped.pair = Pair("H1", "CASE");
  skipped.ohm = {1e6, std::numeric_limits<double>::infinity()};
  skipped.reason = "skipped: no access";
  verdict.not_measured = {skipped};
  VoltageFinding live;
  live.expected.position = "off";
  live.expected.pair = Pair("H1", "H2");
  live.expected.state = VoltageState::dead;
  live.expected.v = {0.0, 1.0};
  live.expected.bands = {{0.0, 1.0}};
  live.expected.nominal_v = 0.0;
  live.expected.live_is_critical = true;
  live.indication = indication(9.2, 239.7);
  live.indication.quantity = Quantity::voltage_ac;
  live.volts = 239.7;
  live.U = 3.3;
  live.outcome = Outcome::fail;
  live.kind = DeviationKind::live;
  live.severity = Severity::critical;
  live.sentence = "H1-H2 reads 239.7 V at off and should be dead.";
  VoltageFinding cycling = live;
  cycling.expected.position = "low";
  cycling.expected.state = VoltageState::cycles;
  cycling.expected.v = {0.0, 252.0};
  cycling.expected.bands = {{0.0, 1.0}, {113.2, 126.0}, {225.9, 252.0}};
  cycling.expected.live_is_critical = false;
  cycling.outcome = Outcome::pass;
  cycling.kind.reset();
  cycling.severity.reset();
  verdict.voltages = {live, cycling};
  VoltageExpectation floating;
  floating.position = "off";
  floating.pair = Pair("H1", "CASE");
  floating.stray_max_v = 60.0;
  floating.reason = "it floats";
  verdict.voltages_not_measured = {floating};
  VoltageFinding supply = cycling;
  supply.expected = VoltageExpectation{};
  supply.expected.pair = Pair("L1", "L2");
  supply.expected.state = VoltageState::live;
  supply.expected.v = {228.0, 252.0};
  supply.expected.bands = {{228.0, 252.0}};
  supply.expected.nominal_v = 240.0;
  verdict.supply = {supply, supply};
  verdict.remarks = {"Soundness cannot be decided with this meter."};
  return verdict;
}

inline Batch closing_batch() {
  Batch batch;
  batch.leads_after = indication(10.0, 0.1);
  batch.events.push_back({at(10.0).wall, "skipped", "H1-CASE at high: no access"});
  batch.verdict = verdict();
  batch.ended = at(11.0).wall;
  return batch;
}

/// Writes a whole record and returns its id.
inline std::string write_whole_record(Store& store) {
  const std::string id = store.begin(header());
  Batch first;
  first.acknowledgements.push_back({at(1.0).wall, "de-energised", "Operator One", "typed at the terminal",
                                    "The part is disconnected and proven dead."});
  first.stated = {stated()};
  first.leads_before = indication(2.0, 0.2);
  store.append(id, first);
  store.append(id, step_batch(1, 4.0, 0.3));
  store.append(id, closing_batch());
  return id;
}

}  // namespace example
