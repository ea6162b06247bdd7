// Events as JSON Lines: the words that --json and the page speak.
#include <cmath>
#include <nlohmann/json.hpp>

#include "bench/keeping.hpp"
#include "switchwright/bench/event.hpp"
#include "switchwright/judge/scope_json.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/result_json.hpp"

namespace switchwright {

namespace {

using Json = nlohmann::ordered_json;

std::string hex(std::string_view bytes) {
  static constexpr char digits[] = "0123456789ABCDEF";
  std::string text;
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    text += digits[byte >> 4];
    text += digits[byte & 15];
  }
  return text;
}

const char* probes_word(Probes probes) {
  switch (probes) {
    case Probes::off: return "off";
    case Probes::shorted: return "shorted";
    case Probes::on_pair: return "pair";
    case Probes::on_known_source: return "known-source";
  }
  return "off";
}

Json pair_json(const Pair& pair) { return Json::array({pair.first(), pair.second()}); }

Json expected_json(const Expectation& expected) {
  Json json;
  json["state"] = to_string(expected.state);
  json["min_ohm"] = expected.ohm.min;
  if (expected.ohm.bounded_above()) json["max_ohm"] = expected.ohm.max;
  if (expected.nominal_ohm) json["nominal_ohm"] = *expected.nominal_ohm;
  if (expected.sound_max_ohm) json["sound_max_ohm"] = *expected.sound_max_ohm;
  return json;
}

/// Bands are given where there is more than one: with a cycling contact a pair is right in any of them.
Json expected_json(const VoltageExpectation& expected) {
  Json json;
  json["state"] = to_string(expected.state);
  if (!expected.bands.empty()) {
    json["min_v"] = expected.v.min;
    json["max_v"] = expected.v.max;
  }
  if (expected.bands.size() > 1) {
    json["bands"] = Json::array();
    for (const Interval& band : expected.bands) json["bands"].push_back({band.min, band.max});
  }
  if (expected.nominal_v) json["nominal_v"] = *expected.nominal_v;
  if (expected.stray_max_v) json["stray_max_v"] = *expected.stray_max_v;
  return json;
}

void put_flags(Json& json, const ReadingFlags& flags) {
  if (flags.hold) json["hold"] = true;
  if (flags.relative) json["relative"] = true;
  if (flags.low_battery) json["low_battery"] = true;
  if (flags.autorange) json["autorange"] = true;
  if (flags.min_max) json["min_max"] = true;
  if (const auto words = words_for(flags); !words.empty()) json["flags"] = words;
}

void put_reading(Json& json, const Reading& reading) {
  json["quantity"] = name_of(reading.quantity);
  json["unit"] = unit_of(reading.quantity);
  if (reading.finite()) json["value"] = reading.value;
  json["state"] = word_for(reading.state);
  json["over_range"] = reading.state == ReadingState::over_range;
  if (reading.state == ReadingState::not_a_number) json["not_a_number"] = true;
  if (reading.beyond) json["beyond"] = *reading.beyond;
  if (reading.resolution > 0) json["resolution"] = reading.resolution;
  put_flags(json, reading.flags);
  json["raw"] = hex(reading.raw);
}

void put_indication(Json& json, const Indication& indication) {
  json["quantity"] = name_of(indication.quantity);
  json["unit"] = unit_of(indication.quantity);
  if (indication.state == ReadingState::finite) json["value"] = indication.value;
  json["state"] = word_for(indication.state);
  json["over_range"] = indication.state == ReadingState::over_range;
  if (indication.beyond) json["beyond"] = *indication.beyond;
  json["resolution"] = indication.resolution;
  json["readings"] = indication.readings;
  json["settled_s"] = seconds_between(indication.from.monotonic, indication.to.monotonic);
}

Json finding_json(const Finding& finding) {
  Json json;
  json["position"] = finding.expected.position;
  json["pair"] = pair_json(finding.expected.pair);
  json["outcome"] = to_string(finding.outcome);
  if (finding.kind) json["kind"] = to_string(*finding.kind);
  if (finding.severity) json["severity"] = to_string(*finding.severity);
  if (finding.corrected) json["corrected"] = json["value_ohm"] = *finding.corrected;
  if (finding.U) json["U"] = json["U_ohm"] = *finding.U;
  json["over_range"] = finding.indication.state == ReadingState::over_range;
  json["expected"] = expected_json(finding.expected);
  json["continuity"] = to_string(finding.continuity);
  if (finding.sound) json["sound"] = to_string(*finding.sound);
  json["witness"] = to_string(finding.witness);
  if (!finding.visits.empty()) json["visits"] = finding.visits.size();
  json["sentence"] = finding.sentence;
  return json;
}

Json explanation_json(const ExplainedFault& explained) {
  Json json;
  json["fault"] = explained.fault;
  json["words"] = explained.words;
  json["probability"] = explained.probability;
  json["same_readings_as"] = explained.same_readings_as;
  if (!explained.hides.empty()) json["hides"] = explained.hides;
  json["consequences"] = Json::array();
  for (const Consequence& c : explained.consequences)
    json["consequences"].push_back(
        {{"fault", c.fault}, {"severity", to_string(c.severity)}, {"means", c.means}, {"next", c.next}});
  return json;
}

Json place_json(const std::string& position, const Pair& pair) {
  return {{"position", position}, {"pair", pair_json(pair)}};
}

/// "explanations" is there whenever there is something to explain: never for a pass.
void put_diagnosis(Json& json, const DiagnosisSummary& diagnosis) {
  json["explanations"] = Json::array();
  for (const ExplainedFault& explained : diagnosis.explanations)
    json["explanations"].push_back(explanation_json(explained));
  if (diagnosis.next) {
    json["next_reading"] = place_json(diagnosis.next->position, diagnosis.next->pair);
    json["next_reading"]["information_bits"] = diagnosis.next_bits;
  }
  json["diagnosis"] = diagnosis.sentence;
  if (!diagnosis.assumed.empty()) json["assumed"] = diagnosis.assumed;
}

Json finding_json(const VoltageFinding& finding) {
  Json json;
  if (!finding.expected.position.empty()) json["position"] = finding.expected.position;
  json["pair"] = pair_json(finding.expected.pair);
  json["quantity"] = "voltage";
  json["outcome"] = to_string(finding.outcome);
  if (finding.kind) json["kind"] = to_string(*finding.kind);
  if (finding.severity) json["severity"] = to_string(*finding.severity);
  if (finding.volts) json["volts"] = json["value_v"] = *finding.volts;
  if (finding.U) json["U"] = json["U_v"] = *finding.U;
  json["over_range"] = finding.indication.state == ReadingState::over_range;
  json["expected"] = expected_json(finding.expected);
  json["sentence"] = finding.sentence;
  return json;
}

Json stated_json(const StatedFinding& finding) {
  Json json;
  json["id"] = finding.wanted.id;
  json["quantity"] = to_string(finding.wanted.quantity);
  json["unit"] = unit_of(finding.wanted.quantity);
  if (finding.result) json["value"] = finding.result->value;
  if (finding.U) json["U"] = *finding.U;
  json["outcome"] = to_string(finding.outcome);
  json["severity"] = to_string(finding.wanted.severity);
  json["sentence"] = finding.sentence;
  return json;
}

Json verdict_json(const VerdictReached& event) {
  Json json;
  json["verdict"] = to_string(event.verdict.outcome);
  json["record"] = event.record_id;
  json["headline"] = event.verdict.headline;
  json["scope"] = scope_json<Json>(event.verdict.scope);
  if (!event.verdict.required.empty()) json["required"] = scope_parts_json<Json>(event.verdict.required);
  json["deviations"] = Json::array();
  for (const Finding* finding : event.verdict.deviations()) json["deviations"].push_back(finding_json(*finding));
  for (const VoltageFinding* finding : event.verdict.voltage_deviations())
    json["deviations"].push_back(finding_json(*finding));
  for (const VoltageFinding& finding : event.verdict.supply)
    if (finding.kind) json["deviations"].push_back(finding_json(finding));
  for (const InspectionFinding& inspection : event.verdict.inspection)
    if (inspection.answer == false)
      json["deviations"].push_back({{"kind", "inspection"},
                                    {"severity", to_string(inspection.question.severity)},
                                    {"sentence", "Answered no: " + inspection.question.ask}});
  for (const StatedFinding& finding : event.verdict.stated)
    if (finding.outcome == Outcome::fail)
      json["deviations"].push_back(
          {{"kind", "stated"}, {"severity", to_string(finding.wanted.severity)}, {"sentence", finding.sentence}});
  json["undecided"] = Json::array();
  for (const Finding& finding : event.verdict.findings)
    if (finding.outcome == Outcome::undecided) json["undecided"].push_back(finding_json(finding));
  for (const VoltageFinding& finding : event.verdict.voltages)
    if (finding.outcome == Outcome::undecided) json["undecided"].push_back(finding_json(finding));
  json["not_measured"] = Json::array();
  for (const Expectation& expected : event.verdict.not_measured)
    json["not_measured"].push_back({{"position", expected.position}, {"pair", pair_json(expected.pair)}});
  if (!event.verdict.stated.empty()) json["stated"] = Json::array();
  for (const StatedFinding& finding : event.verdict.stated) json["stated"].push_back(stated_json(finding));
  if (event.verdict.diagnosis) put_diagnosis(json, *event.verdict.diagnosis);
  json["plan"] = event.verdict.plan.empty() ? "full" : event.verdict.plan;
  json["left_out"] = Json::array();
  for (const Expectation& expected : event.verdict.left_out)
    json["left_out"].push_back(place_json(expected.position, expected.pair));
  for (const VoltageExpectation& expected : event.verdict.voltages_not_measured)
    json["not_measured"].push_back(
        {{"position", expected.position}, {"pair", pair_json(expected.pair)}, {"quantity", "voltage"}});
  json["findings"] = event.verdict.findings.size();
  if (event.verdict.has_powered_part()) {
    json["voltages"] = event.verdict.voltages.size();
    json["supply"] = Json::array();
    for (const VoltageFinding& finding : event.verdict.supply) json["supply"].push_back(finding_json(finding));
  }
  json["lead_ohm"] = event.leads.correction_ohm();
  json["lead_drift_ohm"] = event.leads.drift_ohm();
  json["remarks"] = event.verdict.remarks;
  return json;
}

struct Writer {
  Json json;

  void type(const char* name) { json["type"] = name; }

  void operator()(const SessionOpened& e) {
    type("session");
    json["record"] = e.header.id;
    json["profile"] = e.header.profile_id;
    json["meter"] = e.header.meter_id;
    json["port"] = e.header.port;
    json["part"] = e.header.part;
    json["serial"] = e.header.serial;
    json["operator"] = e.header.operator_name;
    json["rule"] = e.header.rule;
    json["plan"] = e.header.plan.empty() ? "full" : e.header.plan;
    json["k"] = e.header.k;
    json["simulated"] = e.header.simulated;
    json["steps"] = e.steps;
    json["warnings"] = e.warnings;
  }
  void operator()(const StepShown& e) {
    type("step");
    json["step"] = e.step.number;
    json["of"] = e.of;
    json["attempt"] = e.attempt;
    json["kind"] = to_string(e.step.kind);
    if (e.step.arrangement.probes == Probes::on_pair) json["pair"] = pair_json(e.step.arrangement.pair);
    if (!e.step.arrangement.position.empty()) json["position"] = e.step.arrangement.position;
    json["instruction"] = e.step.instruction;
    json["probes"] = probes_word(e.step.arrangement.probes);
    if (e.step.kind != StepKind::acknowledge && e.step.kind != StepKind::inspect)
      json["dial"] = name_of(e.step.arrangement.dial);
    if (e.step.on_another_display) json["on_another_display"] = name_of(*e.step.on_another_display);
    if (e.step.arrangement.current)
      json["current"] = name_of(*e.step.arrangement.current), json["current_a"] = e.step.arrangement.current_a;
    if (!e.step.acknowledges.empty()) json["acknowledges"] = e.step.acknowledges;
    if (e.step.expected) json["expected"] = expected_json(*e.step.expected);
    if (e.step.expected_v) json["expected"] = expected_json(*e.step.expected_v);
    if (e.step.arrangement.power) json["power"] = *e.step.arrangement.power ? "on" : "off";
  }
  void operator()(const ReadingTaken& e) {
    type("reading");
    if (e.step > 0) json["step"] = e.step;
    put_reading(json, e.reading);
    if (!e.refused.empty()) json["refused"] = e.refused;
  }
  void operator()(const Settled& e) {
    type("settled");
    json["step"] = e.step;
    json["attempt"] = e.attempt;
    put_indication(json, e.indication);
    if (e.needs_contact_statement) json["needs_contact_statement"] = true;
  }
  void operator()(const Unsettled& e) {
    type("unsettled");
    json["step"] = e.step;
  }
  void operator()(const Kept& e) {
    type(e.finding || e.voltage ? "judged" : "kept");
    json["step"] = e.step.number;
    json["attempt"] = e.attempt;
    json["kind_of_step"] = to_string(e.step.kind);
    if (e.finding)
      json.update(finding_json(*e.finding));
    else if (e.voltage)
      json.update(finding_json(*e.voltage));
    else
      put_indication(json, e.indication);
    if (e.drop) json["drop"] = drop_json(*e.drop);
    if (e.contact_stated) json["contact_stated"] = true;
  }
  void operator()(const Acknowledged& e) {
    type("acknowledged");
    json["what"] = e.acknowledgement.what;
    json["who"] = e.acknowledgement.who;
    json["how"] = e.acknowledgement.how;
    json["text"] = e.acknowledgement.text;
  }
  void operator()(const Answered& e) {
    type("answered");
    json["step"] = e.step;
    json["question"] = e.finding.question.ask;
    json["severity"] = to_string(e.finding.question.severity);
    if (e.finding.answer) json["answer"] = *e.finding.answer;
  }
  void operator()(const StatedTaken& e) {
    type("stated");
    json["id"] = e.result.id;
    json["value"] = e.result.value;
    if (!e.result.beyond.empty()) json["beyond"] = e.result.beyond;
    if (e.result.U) json["U"] = *e.result.U;
    json["instrument"] = e.result.instrument;
    json["due"] = e.result.due;
    json["text"] = e.result.text;
  }
  void operator()(const Skipped& e) {
    type("skipped");
    json["step"] = e.step.number;
    json["instruction"] = e.step.instruction;
    json["reason"] = e.reason;
  }
  void operator()(const LinkChanged& e) {
    type("link");
    json["state"] = word_for(e.change.state);
    json["detail"] = e.change.detail;
    if (e.change.remark) json["remark"] = true;
  }
  void operator()(const Note& e) {
    type("note");
    json["kind"] = e.kind;
    json["text"] = e.text;
  }
  void operator()(const VerdictReached& e) {
    type("verdict");
    json.update(verdict_json(e));
  }
  void operator()(const Completed& e) {
    type("completed");
    json["record"] = e.record_id;
    json["readings"] = e.readings;
  }
  void operator()(const Stopped& e) {
    type("stopped");
    json["kind"] = e.kind;
    json["text"] = e.text;
  }
};

}  // namespace

std::string to_json(const Event& event, Instant at) {
  Writer writer;
  std::visit(writer, event);
  // The verdict is the last line of a stream and its shape is a contract; every other line carries its time.
  if (!std::holds_alternative<VerdictReached>(event)) {
    const Reading* reading = nullptr;
    if (const auto* taken = std::get_if<ReadingTaken>(&event)) reading = &taken->reading;
    writer.json["time"] = iso8601(reading ? reading->at.wall : at.wall);
  }
  return writer.json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace switchwright
