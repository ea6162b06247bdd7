#include "made_up.hpp"

#include <algorithm>
#include <cmath>

#include "record/example.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/profile/library.hpp"

namespace made_up {

using namespace switchwright;

namespace {

constexpr double leads_ohm = 0.2, contact_ohm = 0.03;

/// A made-up 4000-count meter.
MeterDefinition meter() {
  MeterDefinition meter;
  meter.id = "made-up-4000";
  meter.title = "made-up 4000-count meter";
  meter.source_text = "# made up for a demonstration\nschema = 1\n";
  for (const double full_scale : {400.0, 4e3, 4e4, 4e5, 4e6, 4e7})
    meter.accuracy.push_back({Quantity::resistance, full_scale, full_scale / 4000, full_scale < 1e7 ? 0.8 : 2.0, 3});
  return meter;
}

Indication indicated(const MeterDefinition& meter, double ohm, double seconds) {
  Indication shown;
  shown.readings = 4;
  shown.from = example::at(seconds);
  shown.to = example::at(seconds + 0.9);
  shown.flags.autorange = true;
  for (const AccuracyRow& row : meter.accuracy) {
    if (ohm > row.full_scale) continue;
    shown.resolution = row.resolution;
    shown.value = std::round(ohm / row.resolution) * row.resolution;
    return shown;
  }
  shown.state = ReadingState::over_range;
  shown.beyond = meter.accuracy.back().full_scale;
  return shown;
}

}  // namespace

std::string write(Store& store, const Choices& choices) {
  const Profile profile = load_profile(std::string(SOURCE_DIR) + "/profiles/regulator-shunt-240.toml", {});
  const MeterDefinition with = meter();
  std::vector<Fault> faults;
  for (const std::string& text : choices.faults) faults.push_back(parse_fault(text, profile));

  RecordHeader header;
  header.started = example::start;
  header.tool_version = "0.1.0";
  header.operator_name = choices.operator_name;
  header.part = choices.part;
  header.serial = "MU-0042";
  header.profile_id = profile.id;
  header.profile_title = profile.title;
  header.profile_values = profile.values;
  header.profile_text = profile.source_text;
  header.meter_id = with.id;
  header.meter_title = with.title;
  header.meter_text = with.source_text;
  header.meter_calibrated = choices.calibrated;
  header.port = choices.simulated ? "/dev/pts/7" : "/dev/ttyUSB0";
  header.hands = choices.simulated ? "simulator" : "person";
  header.rule = "guarded";
  header.simulated = choices.simulated;
  const std::string id = store.begin(header);

  double seconds = 5;
  int step = 0;
  Batch before;
  before.acknowledgements.push_back({example::at(2).wall, "de-energised", choices.operator_name,
                                     "typed at the terminal",
                                     "The part is disconnected from every supply and proven dead."});
  const auto prove = [&](const char* kind, const char* instruction, double volts) {
    before.steps.push_back({++step, kind, "", "", "", instruction, example::at(seconds).wall});
    Indication shown;
    shown.quantity = Quantity::voltage_ac;
    shown.value = volts;
    shown.resolution = 0.1;
    shown.readings = 3;
    shown.from = example::at(seconds);
    shown.to = example::at(seconds + 0.8);
    before.indications.push_back({step, 1, shown, false});
    seconds += 4;
  };
  prove("prove-meter", "Measure a known source", 121.3);
  prove("absence-of-voltage", "Measure every pair for voltage", 0.0);
  prove("prove-meter", "Measure the known source again", 121.2);
  before.leads_before = indicated(with, leads_ohm, seconds);
  store.append(id, before);

  std::vector<Measured> measured;
  std::vector<Position> order = profile.positions;
  const auto pairs = profile.pairs();
  int placement = 0;
  for (const Pair& pair : pairs) {
    for (const Position& position : order) {
      seconds += 6;
      if (choices.one_skipped && pair == pairs.back() && position.id == "high") continue;
      if (!choices.finished && pair == pairs[4]) return id;
      PartValues values;
      values.closed_contact_ohm = contact_ohm;
      const Network network = network_of(profile, position.id, values, faults);
      const double ohm = network.resistance_ohm(pair.first(), pair.second());
      Measured one{position.id, pair, indicated(with, std::isfinite(ohm) ? ohm + leads_ohm : ohm, seconds), placement,
                   true};
      if (choices.one_unwitnessed && pair.has("CASE") && pair.has("P")) one.contact_stated = false;
      Batch batch;
      batch.steps.push_back({++step, "measure", pair.first(), pair.second(), position.id,
                             "Probes on " + pair.text() + ", knob to " + position.id, one.indication.from.wall});
      for (int i = 0; i < 2; ++i) {
        Reading reading;
        reading.state = one.indication.state;
        reading.value = one.indication.value;
        reading.resolution = one.indication.resolution;
        reading.beyond = one.indication.beyond;
        reading.flags = one.indication.flags;
        reading.at = example::at(seconds + 0.4 * i);
        reading.raw = "made up\r\n";
        batch.readings.push_back({step, reading});
      }
      batch.indications.push_back({step, 1, one.indication, one.contact_stated});
      store.append(id, batch);
      measured.push_back(one);
    }
    std::reverse(order.begin(), order.end());
    ++placement;
  }
  Batch closing;
  closing.leads_after = indicated(with, leads_ohm, seconds + 8);
  if (choices.one_skipped)
    closing.events.push_back(
        {example::at(seconds).wall, "skipped", pairs.back().text() + " at high: probe does not reach"});
  std::vector<InspectionFinding> inspection;
  for (const InspectionQuestion& question : profile.inspect) {
    InspectionFinding answered;
    answered.question = question;
    answered.answer = true;
    inspection.push_back(answered);
  }
  closing.verdict = judge_all(profile, expectations(profile), measured, inspection, with,
                              {before.leads_before, closing.leads_after}, {DecisionRule::guarded, 2.0});
  add_diagnosis(*closing.verdict, profile, load_knowledge({std::string(SOURCE_DIR) + "/profiles"}), with,
                {before.leads_before, closing.leads_after}, 2.0);
  closing.ended = example::at(seconds + 12).wall;
  store.append(id, closing);
  return id;
}

Record record(const Choices& choices) {
  const example::Folder folder;
  Store store(folder / "records.sqlite");
  const std::string id = write(store, choices);
  return store.load(id, true);
}

}  // namespace made_up
