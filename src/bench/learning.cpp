#include "switchwright/bench/learning.hpp"

#include <algorithm>
#include <map>

#include "switchwright/analysis/measured.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/judge/witness.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright {

namespace {

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

LearnSubject subject_of(const Record& record) {
  if (const auto* subject = last_of<LearnSubject>(record.results)) return *subject;
  throw Error(ErrorKind::store, "record " + record.header.id + " does not say what was to be learned", {},
              "learn the part anew");
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
  Learned& learned = result.part.learned;
  std::string& toml = result.part.profile;
  learned = learn(subject, readings);
  const std::string by = "meter definition " + record.header.meter_id +
                         (record.header.operator_name.empty() ? "" : " by " + record.header.operator_name) +
                         ", record " + record.header.id +
                         (record.header.simulated ? ", on the SIMULATOR: not a real part" : "");
  result.doubtful = learned.unexplained;
  if (!result.doubtful.empty()) return result;
  toml = learned_toml(subject, readings, learned, iso8601(record.header.started).substr(0, 10), by);
  result.doubtful = outside_of(parse_profile(toml, name), readings, subject.beyond_ohm);
  if (!result.doubtful.empty()) toml.clear();
  return result;
}

}  // namespace switchwright
