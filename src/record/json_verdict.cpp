// What was judged, as JSON.
#include "record/json_parts.hpp"
#include "switchwright/judge/scope_json.hpp"

namespace switchwright {

namespace json_parts {

namespace {

constexpr Words<PairState, 4> pair_states{{{PairState::open, "open"},
                                           {PairState::closed, "closed"},
                                           {PairState::element, "element"},
                                           {PairState::not_checked, "not-checked"}}};
constexpr Words<Outcome, 3> outcomes{
    {{Outcome::pass, "pass"}, {Outcome::fail, "fail"}, {Outcome::undecided, "undecided"}}};
constexpr Words<DeviationKind, 9> kinds{{{DeviationKind::stays_open, "stays-open"},
                                         {DeviationKind::stays_closed, "stays-closed"},
                                         {DeviationKind::high_resistance, "high-resistance"},
                                         {DeviationKind::leaks, "leaks"},
                                         {DeviationKind::out_of_band, "out-of-band"},
                                         {DeviationKind::dead, "dead"},
                                         {DeviationKind::live, "live"},
                                         {DeviationKind::low_voltage, "low-voltage"},
                                         {DeviationKind::inspection, "inspection"}}};
constexpr Words<Severity, 3> severities{
    {{Severity::critical, "critical"}, {Severity::major, "major"}, {Severity::minor, "minor"}}};
constexpr Words<Witness, 4> witnesses{{{Witness::not_needed, "not-needed"},
                                       {Witness::witnessed, "witnessed"},
                                       {Witness::stated, "stated"},
                                       {Witness::missing, "missing"}}};

json expectation_json(const Expectation& expected) {
  json object;
  put(object, "position", expected.position);
  object["pair"] = {utf8(expected.pair.first()), utf8(expected.pair.second())};
  object["state"] = word_for(expected.state);
  put(object, "min_ohm", expected.ohm.min);
  put(object, "max_ohm", expected.ohm.max);
  put(object, "nominal_ohm", expected.nominal_ohm);
  put(object, "sound_max_ohm", expected.sound_max_ohm);
  object["can_make_live"] = expected.can_make_live;
  put(object, "reason", expected.reason);
  return object;
}

Expectation expectation_from(const json& object) {
  Expectation expected;
  expected.position = text_at(object, "position");
  expected.pair = Pair(object.at("pair").at(0).get<std::string>(), object.at("pair").at(1).get<std::string>());
  expected.state = value_of(pair_states, text_at(object, "state"));
  expected.ohm.min = number_at(object, "min_ohm", expected.ohm.min);
  expected.ohm.max = number_at(object, "max_ohm", expected.ohm.max);
  expected.nominal_ohm = maybe_number_at(object, "nominal_ohm");
  expected.sound_max_ohm = maybe_number_at(object, "sound_max_ohm");
  expected.can_make_live = object.value("can_make_live", false);
  expected.reason = text_at(object, "reason");
  return expected;
}

json visit_json(const Visit& visit) {
  json object;
  object["indication"] = indication_json(visit.indication, nullptr);
  put(object, "corrected", visit.corrected);
  object["outcome"] = word_for(visit.outcome);
  return object;
}

Visit visit_from(const json& object, Wall started) {
  return {indication_from(object.at("indication"), started), maybe_number_at(object, "corrected"),
          value_of(outcomes, text_at(object, "outcome"))};
}

json finding_json(const Finding& finding) {
  json object;
  object["expected"] = expectation_json(finding.expected);
  object["indication"] = indication_json(finding.indication, nullptr);
  put(object, "corrected", finding.corrected);
  put(object, "U", finding.U);
  object["outcome"] = word_for(finding.outcome);
  if (finding.continuity != finding.outcome) object["continuity"] = word_for(finding.continuity);
  if (finding.kind) object["kind"] = word_for(*finding.kind);
  if (finding.severity) object["severity"] = word_for(*finding.severity);
  if (finding.sound) object["sound"] = word_for(*finding.sound);
  object["witness"] = word_for(finding.witness);
  put(object, "p_conform", finding.p_conform);
  for (const Visit& visit : finding.visits) object["visits"].push_back(visit_json(visit));
  put(object, "sentence", finding.sentence);
  return object;
}

Finding finding_from(const json& object, Wall started) {
  Finding finding;
  finding.expected = expectation_from(object.at("expected"));
  finding.indication = indication_from(object.at("indication"), started);
  finding.corrected = maybe_number_at(object, "corrected");
  finding.U = maybe_number_at(object, "U");
  finding.outcome = value_of(outcomes, text_at(object, "outcome"));
  finding.continuity =  // said only where it differs
      object.contains("continuity") ? value_of(outcomes, text_at(object, "continuity")) : finding.outcome;
  if (object.contains("kind")) finding.kind = value_of(kinds, text_at(object, "kind"));
  if (object.contains("severity")) finding.severity = value_of(severities, text_at(object, "severity"));
  if (object.contains("sound")) finding.sound = value_of(outcomes, text_at(object, "sound"));
  finding.witness = value_of(witnesses, text_at(object, "witness"));
  finding.p_conform = maybe_number_at(object, "p_conform");
  for (const json& visit : object.value("visits", json::array())) finding.visits.push_back(visit_from(visit, started));
  finding.sentence = text_at(object, "sentence");
  return finding;
}

constexpr Words<VoltageState, 6> voltage_states{{{VoltageState::live, "live"},
                                                 {VoltageState::dead, "dead"},
                                                 {VoltageState::cycles, "cycles"},
                                                 {VoltageState::divided, "divided"},
                                                 {VoltageState::not_checked, "not-checked"},
                                                 {VoltageState::unsolved, "unsolved"}}};

json voltage_expectation_json(const VoltageExpectation& expected) {
  json object;
  put(object, "position", expected.position);
  object["pair"] = {utf8(expected.pair.first()), utf8(expected.pair.second())};
  object["state"] = word(voltage_states, expected.state);
  if (!expected.bands.empty()) {
    put(object, "min_v", expected.v.min);
    put(object, "max_v", expected.v.max);
  }
  if (expected.bands.size() > 1)  // a cycling pair is right in any of them
    for (const Interval& band : expected.bands) object["bands"].push_back({band.min, band.max});
  put(object, "nominal_v", expected.nominal_v);
  put(object, "stray_max_v", expected.stray_max_v);
  object["live_is_critical"] = expected.live_is_critical;
  put(object, "reason", expected.reason);
  return object;
}

VoltageExpectation voltage_expectation_from(const json& object) {
  VoltageExpectation expected;
  expected.position = text_at(object, "position");
  expected.pair = Pair(object.at("pair").at(0).get<std::string>(), object.at("pair").at(1).get<std::string>());
  expected.state = value_of(voltage_states, text_at(object, "state"));
  if (object.contains("min_v")) {
    expected.v = {number_at(object, "min_v"), number_at(object, "max_v")};
    expected.bands = {expected.v};
    if (object.contains("bands")) {
      expected.bands.clear();
      for (const json& band : object["bands"])
        expected.bands.push_back({band.at(0).get<double>(), band.at(1).get<double>()});
    }
  }
  expected.nominal_v = maybe_number_at(object, "nominal_v");
  expected.stray_max_v = maybe_number_at(object, "stray_max_v");
  expected.live_is_critical = object.value("live_is_critical", false);
  expected.reason = text_at(object, "reason");
  return expected;
}

json voltage_finding_json(const VoltageFinding& finding) {
  json object;
  object["expected"] = voltage_expectation_json(finding.expected);
  object["indication"] = indication_json(finding.indication, nullptr);
  put(object, "volts", finding.volts);
  put(object, "U", finding.U);
  object["outcome"] = word_for(finding.outcome);
  if (finding.kind) object["kind"] = word_for(*finding.kind);
  if (finding.severity) object["severity"] = word_for(*finding.severity);
  put(object, "sentence", finding.sentence);
  return object;
}

VoltageFinding voltage_finding_from(const json& object, Wall started) {
  VoltageFinding finding;
  finding.expected = voltage_expectation_from(object.at("expected"));
  finding.indication = indication_from(object.at("indication"), started);
  finding.volts = maybe_number_at(object, "volts");
  finding.U = maybe_number_at(object, "U");
  finding.outcome = value_of(outcomes, text_at(object, "outcome"));
  if (object.contains("kind")) finding.kind = value_of(kinds, text_at(object, "kind"));
  if (object.contains("severity")) finding.severity = value_of(severities, text_at(object, "severity"));
  finding.sentence = text_at(object, "sentence");
  return finding;
}

json inspection_json(const InspectionFinding& finding) {
  json object;
  put(object, "ask", finding.question.ask);
  object["severity"] = word_for(finding.question.severity);
  if (finding.answer) object["answer"] = *finding.answer;
  put(object, "note", finding.note);
  return object;
}

InspectionFinding inspection_from(const json& object) {
  InspectionFinding finding;
  finding.question.ask = text_at(object, "ask");
  finding.question.severity = value_of(severities, text_at(object, "severity"));
  if (object.contains("answer")) finding.answer = object["answer"].get<bool>();
  finding.note = text_at(object, "note");
  return finding;
}

constexpr Words<StatedQuantity, 5> stated_quantities{{{StatedQuantity::insulation_resistance, "insulation-resistance"},
                                                      {StatedQuantity::withstand_current, "withstand-current"},
                                                      {StatedQuantity::earth_bond, "earth-bond"},
                                                      {StatedQuantity::temperature_rise, "temperature-rise"},
                                                      {StatedQuantity::tab_pull, "tab-pull"}}};

json stated_finding_json(const StatedFinding& finding) {
  json object;
  put(object, "id", finding.wanted.id);
  object["quantity"] = word(stated_quantities, finding.wanted.quantity);
  put(object, "unit", unit_of(finding.wanted.quantity));
  put(object, "what", finding.wanted.what);
  put(object, "min", finding.wanted.limit.min);
  put(object, "max", finding.wanted.limit.max);
  object["severity"] = word_for(finding.wanted.severity);
  object["required"] = finding.wanted.required;
  if (finding.result) {
    object["result"] = stated_result_json(*finding.result);
    if (finding.result->at != Wall{}) object["result"]["at"] = iso8601(finding.result->at);
  }
  put(object, "U", finding.U);
  object["outcome"] = word_for(finding.outcome);
  put(object, "sentence", finding.sentence);
  return object;
}

StatedFinding stated_finding_from(const json& object) {
  StatedFinding finding;
  finding.wanted.id = text_at(object, "id");
  finding.wanted.quantity = value_of(stated_quantities, text_at(object, "quantity"));
  finding.wanted.what = text_at(object, "what");
  finding.wanted.limit.min = number_at(object, "min", finding.wanted.limit.min);
  finding.wanted.limit.max = number_at(object, "max", finding.wanted.limit.max);
  finding.wanted.severity = value_of(severities, text_at(object, "severity"));
  finding.wanted.required = object.value("required", true);
  if (object.contains("result")) finding.result = stated_result_from(object["result"]);
  finding.U = maybe_number_at(object, "U");
  finding.outcome = value_of(outcomes, text_at(object, "outcome"));
  finding.sentence = text_at(object, "sentence");
  return finding;
}

json consequence_json(const Consequence& consequence) {
  json object;
  put(object, "fault", consequence.fault);
  put(object, "means", consequence.means);
  put(object, "next", consequence.next);
  object["severity"] = word_for(consequence.severity);
  return object;
}

json explanation_json(const ExplainedFault& explained) {
  json object;
  put(object, "fault", explained.fault);
  put(object, "words", explained.words);
  put(object, "probability", explained.probability);
  put_rows(object, "same_readings_as", explained.same_readings_as, utf8);
  put_rows(object, "hides", explained.hides, utf8);
  put_rows(object, "consequences", explained.consequences, consequence_json);
  return object;
}

ExplainedFault explanation_from(const json& object) {
  ExplainedFault explained;
  explained.fault = text_at(object, "fault");
  explained.words = text_at(object, "words");
  explained.probability = number_at(object, "probability");
  explained.same_readings_as = object.value("same_readings_as", std::vector<std::string>{});
  explained.hides = object.value("hides", std::vector<std::string>{});
  for (const auto& row : object.value("consequences", json::array()))
    explained.consequences.push_back({text_at(row, "fault"), text_at(row, "means"), text_at(row, "next"),
                                      value_of(severities, text_at(row, "severity"))});
  return explained;
}

/// Lies flat in the verdict: "explanations", "next_reading", "diagnosis", "assumed".
void put_diagnosis(json& object, const DiagnosisSummary& diagnosis) {
  put(object, "diagnosis", diagnosis.sentence);
  put(object, "assumed", diagnosis.assumed);
  put_rows(object, "explanations", diagnosis.explanations, explanation_json);
  if (!diagnosis.next) return;
  json next;
  put(next, "position", diagnosis.next->position);
  next["pair"] = {utf8(diagnosis.next->pair.first()), utf8(diagnosis.next->pair.second())};
  put(next, "information_bits", diagnosis.next_bits);
  object["next_reading"] = std::move(next);
}

std::optional<DiagnosisSummary> diagnosis_from(const json& object) {
  if (!object.contains("diagnosis") && !object.contains("explanations")) return std::nullopt;
  DiagnosisSummary diagnosis;
  diagnosis.sentence = text_at(object, "diagnosis");
  diagnosis.assumed = text_at(object, "assumed");
  for (const auto& row : object.value("explanations", json::array()))
    diagnosis.explanations.push_back(explanation_from(row));
  if (object.contains("next_reading")) {
    const json& next = object["next_reading"];
    diagnosis.next = Place{text_at(next, "position"),
                           Pair(next.at("pair").at(0).get<std::string>(), next.at("pair").at(1).get<std::string>())};
    diagnosis.next_bits = number_at(next, "information_bits");
  }
  return diagnosis;
}

}  // namespace

json stated_result_json(const StatedResult& result) {
  json object;
  put(object, "id", result.id);
  put(object, "value", result.value);
  put(object, "beyond", result.beyond);
  put(object, "U", result.U);
  put(object, "instrument", result.instrument);
  put(object, "due", result.due);
  put(object, "text", result.text);
  return object;
}

StatedResult stated_result_from(const json& object) {
  StatedResult result;
  result.id = text_at(object, "id");
  result.value = number_at(object, "value");
  result.beyond = text_at(object, "beyond");
  result.U = maybe_number_at(object, "U");
  result.instrument = text_at(object, "instrument");
  result.due = text_at(object, "due");
  result.text = text_at(object, "text");
  if (object.contains("at")) result.at = parse_iso8601(text_at(object, "at"));
  return result;
}

json verdict_json(const Verdict& verdict) {
  json object;
  object["outcome"] = word_for(verdict.outcome);
  put(object, "headline", verdict.headline);
  if (verdict.scope != Scope{}) object["scope"] = scope_json<json>(verdict.scope);
  if (!verdict.required.empty()) object["required"] = scope_parts_json<json>(verdict.required);
  put_rows(object, "findings", verdict.findings, finding_json);
  put_rows(object, "inspection", verdict.inspection, inspection_json);
  put_rows(object, "stated", verdict.stated, stated_finding_json);
  put_rows(object, "not_measured", verdict.not_measured, expectation_json);
  put_rows(object, "voltages", verdict.voltages, voltage_finding_json);
  put_rows(object, "voltages_not_measured", verdict.voltages_not_measured, voltage_expectation_json);
  put_rows(object, "supply", verdict.supply, voltage_finding_json);
  put_rows(object, "remarks", verdict.remarks, utf8);
  put(object, "plan", verdict.plan);
  put_rows(object, "left_out", verdict.left_out, expectation_json);
  if (verdict.diagnosis) put_diagnosis(object, *verdict.diagnosis);
  return object;
}

Verdict verdict_from(const json& object, Wall started) {
  Verdict verdict;
  verdict.outcome = value_of(outcomes, text_at(object, "outcome"));
  verdict.headline = text_at(object, "headline");
  if (object.contains("scope")) verdict.scope = scope_from(object["scope"]);
  if (object.contains("required")) verdict.required = scope_parts_from(object["required"]);
  for (const auto& row : object.value("findings", json::array()))
    verdict.findings.push_back(finding_from(row, started));
  for (const auto& row : object.value("inspection", json::array())) verdict.inspection.push_back(inspection_from(row));
  for (const auto& row : object.value("stated", json::array())) verdict.stated.push_back(stated_finding_from(row));
  for (const auto& row : object.value("not_measured", json::array()))
    verdict.not_measured.push_back(expectation_from(row));
  for (const auto& row : object.value("voltages", json::array()))
    verdict.voltages.push_back(voltage_finding_from(row, started));
  for (const auto& row : object.value("voltages_not_measured", json::array()))
    verdict.voltages_not_measured.push_back(voltage_expectation_from(row));
  for (const auto& row : object.value("supply", json::array()))
    verdict.supply.push_back(voltage_finding_from(row, started));
  for (const auto& row : object.value("remarks", json::array())) verdict.remarks.push_back(row.get<std::string>());
  verdict.plan = text_at(object, "plan");
  for (const auto& row : object.value("left_out", json::array())) verdict.left_out.push_back(expectation_from(row));
  verdict.diagnosis = diagnosis_from(object);
  return verdict;
}

}  // namespace json_parts

std::string word_for(VoltageState state) { return json_parts::word(json_parts::voltage_states, state); }
std::string word_for(PairState state) { return json_parts::word(json_parts::pair_states, state); }
std::string word_for(Outcome outcome) { return json_parts::word(json_parts::outcomes, outcome); }
std::string word_for(DeviationKind kind) { return json_parts::word(json_parts::kinds, kind); }
std::string word_for(Severity severity) { return json_parts::word(json_parts::severities, severity); }
std::string word_for(Witness witness) { return json_parts::word(json_parts::witnesses, witness); }

}  // namespace switchwright
