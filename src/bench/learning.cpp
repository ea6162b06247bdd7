#include "switchwright/bench/learning.hpp"

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>

#include "switchwright/analysis/measured.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/judge/witness.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright {

namespace {

using Json = nlohmann::ordered_json;

/// The findings of the last reading of every place, judged by a profile that has nothing in it: of interest
/// are the values with the leads subtracted, their uncertainty and the witnesses.
Verdict read_so_far(const Record& record) {
  const Profile nothing = provisional_profile(subject_of(record));
  const MeterDefinition meter = parse_meter_definition(record.header.meter_text, record.header.meter_id);
  return judge_all(nothing, expectations(nothing), measured_in(record), {}, meter, leads_in(record), {});
}

std::string missing_from(const Record& record, const Verdict& verdict) {
  std::vector<std::string> places;
  if (!verdict.findings.empty() && !tips_seen_apart(verdict.findings, leads_in(record)))
    places.push_back("the probes held apart");
  for (const Expectation& e : verdict.not_measured) places.push_back(e.pair.text() + " at " + e.position);
  for (const Finding& finding : verdict.findings)
    if (finding.witness == Witness::missing || finding.indication.state == ReadingState::not_a_number)
      places.push_back(finding.expected.pair.text() + " at " + finding.expected.position);
  constexpr std::size_t most = 6;
  const std::size_t all = places.size();
  if (all > most) {
    places.resize(most);
    places.push_back(std::to_string(all - most) + " more");
  }
  return joined_with_and(places);
}

}  // namespace

std::string setup_json(const LearnSubject& subject) {
  Json json{{"type", "setup"},
            {"title", subject.title},
            {"knob", subject.knob},
            {"terminals", subject.terminals},
            {"exposed_metal", subject.exposed_metal},
            {"positions", subject.positions},
            {"beyond_ohm", subject.beyond_ohm}};
  if (subject.voltage_v) json["voltage_v"] = *subject.voltage_v;
  if (subject.current_a) json["current_a"] = *subject.current_a;
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

LearnSubject subject_of(const Record& record) {
  const auto row = std::find_if(record.results.begin(), record.results.end(),
                                [](const TraceResult& r) { return r.kind == "setup"; });
  const Json json = row == record.results.end() ? Json{} : Json::parse(row->json, nullptr, false);
  if (!json.is_object() || !json.contains("terminals") || !json.contains("positions"))
    throw Error(ErrorKind::store, "record " + record.header.id + " does not say what was to be learned", {},
                "learn the part anew");
  LearnSubject subject;
  subject.title = json.value("title", "");
  subject.knob = json.value("knob", "knob");
  subject.terminals = json["terminals"].get<std::vector<std::string>>();
  subject.exposed_metal = json.value("exposed_metal", std::vector<std::string>{});
  subject.positions = json["positions"].get<std::vector<std::string>>();
  subject.beyond_ohm = json.value("beyond_ohm", 1e7);
  if (json.contains("voltage_v")) subject.voltage_v = json["voltage_v"].get<double>();
  if (json.contains("current_a")) subject.current_a = json["current_a"].get<double>();
  return subject;
}

std::vector<LearnReading> learn_readings(const Record& record) {
  const Verdict verdict = read_so_far(record);
  if (const std::string missing = missing_from(record, verdict); !missing.empty())
    throw Error(ErrorKind::usage, "not measured, or open with nothing to witness that the probes touched: " + missing,
                "record " + record.header.id, "go on with: switchwright profiles learn --resume " + record.header.id);
  std::vector<LearnReading> readings;
  for (const Finding& finding : verdict.findings)
    readings.push_back({finding.expected.position, finding.expected.pair, finding.corrected, finding.U.value_or(0.0)});
  return readings;
}

bool is_all_read(const Record& record) {
  return record.leads_after && missing_from(record, read_so_far(record)).empty();
}

Record without_pairs(Record record, const std::vector<Pair>& pairs) {
  std::map<int, Pair> pair_of;
  for (const StepRow& row : record.steps)
    if (!row.pair_first.empty()) pair_of[row.step] = {row.pair_first, row.pair_second};
  std::erase_if(record.indications, [&](const IndicationRow& row) {
    const auto found = pair_of.find(row.step);
    return found != pair_of.end() && std::find(pairs.begin(), pairs.end(), found->second) != pairs.end();
  });
  record.leads_after.reset();
  return record;
}

LearnedProfile learn_from(const Record& record, const std::string& name) {
  const LearnSubject subject = subject_of(record);
  const auto readings = learn_readings(record);
  LearnedProfile result;
  result.learned = learn(subject, readings);
  const std::string by = "meter definition " + record.header.meter_id +
                         (record.header.operator_name.empty() ? "" : " by " + record.header.operator_name) +
                         ", record " + record.header.id +
                         (record.header.simulated ? ", on the SIMULATOR: not a real part" : "");
  result.doubtful = result.learned.unexplained;
  if (!result.doubtful.empty()) return result;
  result.toml = learned_toml(subject, readings, result.learned, iso8601(record.header.started).substr(0, 10), by);
  result.doubtful = outside_of(parse_profile(result.toml, name), readings, subject.beyond_ohm);
  if (!result.doubtful.empty()) result.toml.clear();
  return result;
}

std::string to_json(const LearnedProfile& result) {
  const Learned& learned = result.learned;
  Json json{{"type", "learned"}, {"contacts", Json::array()}, {"elements", Json::array()}};
  for (const Contact& contact : learned.contacts)
    json["contacts"].push_back({{"id", contact.id},
                                {"pair", {contact.between.first(), contact.between.second()}},
                                {"closed_at", contact.closed_at}});
  for (const Element& element : learned.elements)
    json["elements"].push_back({{"id", element.id},
                                {"pair", {element.between.first(), element.between.second()}},
                                {"nominal_ohm", element.nominal_ohm},
                                {"tolerance_pct", element.tolerance_pct}});
  json["unconnected"] = learned.unconnected;
  json["open_questions"] = learned.ambiguities;
  json["profile"] = result.toml;
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace switchwright
