#include "switchwright/train/practice_record.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/record/step_kind.hpp"

namespace switchwright {

PracticeRecord::PracticeRecord(const std::filesystem::path& store, const Exercise& exercise, const std::string& level,
                               const std::string& learner, const std::string& tool_version)
    : store_(store) {
  bool practice_alone = true;
  store_.walk([&](const RecordSummary& record) { return practice_alone = record.kind == RecordKind::practice; });
  if (!practice_alone)
    throw Error(ErrorKind::usage, "this store holds records of real work; practice is kept apart from it",
                store.string(), "name another file with --store, or leave --store out");
  const Lesson& lesson = exercise.lesson();
  const Profile& profile = lesson.profile();
  const MeterDefinition& meter = lesson.meter();
  RecordHeader header;
  header.kind = RecordKind::practice;
  header.started = SystemClock{}.now().wall;
  header.tool_version = tool_version;
  header.operator_name = learner;
  header.part = "PRACTICE, not a real part";
  header.serial = fmt::format("practice {} {}", level, exercise.seed());
  header.profile_id = profile.id;
  header.profile_title = profile.title;
  header.profile_values = profile.values;
  header.profile_text = profile.source_text;
  header.meter_id = meter.id;
  header.meter_title = meter.title;
  header.meter_text = meter.source_text;
  header.port = "simulator";
  header.hands = "simulator";
  header.rule = to_string(DecisionRule::guarded);
  header.simulated = true;
  id_ = store_.begin(header);
}

void PracticeRecord::keep_reading(const Exercise& exercise) {
  const std::size_t last = exercise.readings().size() - 1;
  const Place& place = exercise.readings()[last].place;
  const int step = static_cast<int>(last) + 1;
  Batch batch;
  batch.steps.push_back({step, to_string(StepKind::measure), place.pair.first(), place.pair.second(), place.position,
                         "practice: reading chosen by the learner", SystemClock{}.now().wall});
  batch.indications.push_back({step, 1, exercise.indications()[last], true});
  if (last == 0) batch.leads_before = exercise.leads().before;
  store_.append(id_, batch);
}

void PracticeRecord::conclude(const Exercise& exercise, const Judgement& judgement) {
  const Lesson& lesson = exercise.lesson();
  const Wall now = SystemClock{}.now().wall;
  Batch batch;
  batch.events.push_back({now, "practice",
                          fmt::format("hidden: {}; named: {}; {}; {} readings", exercise.hidden_name(),
                                      judgement.named ? lesson.cases()[*judgement.named].name : "nothing",
                                      !judgement.named    ? "gave up"
                                      : judgement.right() ? "right"
                                                          : "wrong",
                                      exercise.readings().size())});
  Verdict verdict = judge_all(lesson.profile(), expectations(lesson.profile()), exercise.measured(), {}, lesson.meter(),
                              exercise.leads(), {});
  verdict.headline = "Practice on a simulated switch, not a result. " + verdict.headline;
  verdict.remarks.insert(verdict.remarks.begin(), "Practice: simulated readings; no part was tested.");
  batch.verdict = verdict;
  batch.ended = now;
  store_.append(id_, batch);
}

}  // namespace switchwright
