#include "switchwright/train/exercise.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "switchwright/explain/coverage.hpp"
#include "switchwright/judge/uncertainty.hpp"
#include "switchwright/profile/expectation.hpp"

namespace switchwright {

namespace {

/// What the meter would show, without noise.
Indication shown_for(const MeterDefinition& meter, double ohm) {
  Indication indication;
  indication.flags.autorange = true;
  indication.readings = 1;
  const double top = meter.top_of_range(Quantity::resistance).value_or(1e7);
  const AccuracyRow* row = ohm <= top ? meter.accuracy_for(Quantity::resistance, ohm, 0.0) : nullptr;
  indication.resolution = row ? row->resolution : 0.0;
  if (ohm > top) {
    indication.state = ReadingState::over_range;
    indication.beyond = top;
  } else {
    indication.value = row ? std::round(ohm / row->resolution) * row->resolution : ohm;
  }
  return indication;
}

}  // namespace

Exercise::Exercise(const Lesson& lesson, std::uint64_t seed)
    : lesson_(&lesson), seed_(seed), hidden_(lesson.hidden(seed)) {}

std::string Exercise::hidden_name() const {
  std::vector<std::string> names;
  for (const Fault& fault : hidden_faults()) names.push_back(to_string(fault));
  return names.empty() ? lesson_->cases()[hidden_].name : fmt::format("{}", fmt::join(names, " + "));
}

void Exercise::add(const Place& place, const Indication& indication) {
  LessonReading reading{place, std::nullopt, 0.0};
  if (indication.state == ReadingState::finite) {
    reading.ohm = std::max(0.0, indication.value - leads_.correction_ohm());
    reading.U_ohm =
        uncertainty_of(lesson_->meter(), Quantity::resistance, indication.value, indication.resolution, &leads_).U;
  }
  readings_.push_back(reading);
  indications_.push_back(indication);
}

std::vector<Measured> Exercise::measured() const {
  std::vector<Measured> all;
  for (std::size_t i = 0; i < readings_.size(); ++i)
    all.push_back(
        {readings_[i].place.position, readings_[i].place.pair, indications_[i], static_cast<int>(i) + 1, true});
  return all;
}

std::vector<Finding> Exercise::findings() const {
  return judge_all(lesson_->profile(), expectations(lesson_->profile()), measured(), {}, lesson_->meter(), leads_, {})
      .findings;
}

Diagnosis Exercise::diagnosis() const {
  std::vector<Place> unread;
  for (const Place& place : lesson_->places())
    if (std::none_of(readings_.begin(), readings_.end(), [&](const LessonReading& r) { return r.place == place; }))
      unread.push_back(place);
  const Knowledge& known = lesson_->knowledge();
  ExplainSettings settings;
  settings.doubles = std::any_of(lesson_->cases().begin(), lesson_->cases().end(),
                                 [](const LessonCase& c) { return c.kind == "two"; });
  settings.least_information_bits = 0.0;
  return explain(lesson_->profile(), known.others, findings(), unread, lesson_->meter(), leads_, known.priors,
                 settings);
}

std::optional<NextReading> Exercise::next() const {
  const auto left = lesson_->left(readings_);
  const auto useful = [&](const Place& place) {
    const auto at = std::find(lesson_->places().begin(), lesson_->places().end(), place) - lesson_->places().begin();
    for (std::size_t i = 0; i < left.size(); ++i)
      for (std::size_t j = i + 1; j < left.size(); ++j)
        if (lesson_->look_different(left[i], left[j], static_cast<std::size_t>(at))) return true;
    return false;
  };
  // What is improbable must fall too before a lesson is over: then the place that parts most of what is left.
  const auto parts_most = lesson_->most_telling(readings_);
  if (!parts_most) return std::nullopt;
  const Diagnosis now = diagnosis();
  if (now.next && now.next->information_bits >= 0.05 && useful(now.next->place)) return now.next;
  return NextReading{*parts_most, 0.0};
}

Judgement Exercise::judged(std::optional<std::size_t> named) const {
  Judgement judgement;
  judgement.named = named;
  judgement.exact = named == hidden_;
  judgement.same_readings = named && !judgement.exact && lesson_->same_readings(*named, hidden_);
  if (named && !judgement.right())
    if (const auto against = lesson_->against(*named, readings_); !against.empty()) judgement.refuted_by = against[0];
  judgement.told_it = lesson_->against(0, readings_);
  for (std::size_t i = 0; i < lesson_->cases().size(); ++i) {
    if (i == hidden_) continue;
    const auto against = lesson_->against(i, readings_);
    if (!against.empty())
      judgement.fallen.push_back({i, against[0]});
    else
      (lesson_->same_readings(i, hidden_) ? judgement.alike : judgement.standing).push_back(i);
  }
  return judgement;
}

std::vector<Exercise::WayStep> Exercise::informed_way() const {
  Exercise ideal(*lesson_, seed_);
  const auto faults = hidden_faults();
  std::vector<WayStep> way;
  constexpr std::size_t most = 40;
  while (way.size() < most) {
    const auto left = lesson_->left(ideal.readings_);
    if (std::all_of(left.begin(), left.end(),
                    [&](std::size_t i) { return i == hidden_ || lesson_->same_readings(i, hidden_); }))
      break;
    const auto next = ideal.next();
    if (!next) break;
    PartValues values;
    const double ohm = network_of(hidden_part(), next->place.position, values, faults)
                           .resistance_ohm(next->place.pair.first(), next->place.pair.second());
    ideal.add(next->place, shown_for(lesson_->meter(), ohm));
    way.push_back({*next, lesson_->left(ideal.readings_).size()});
  }
  return way;
}

std::optional<std::size_t> Exercise::shown_by() const {
  const auto faults = lesson_->cases()[hidden_].most;
  if (faults.size() != 1) return std::nullopt;
  const Profile& profile = lesson_->profile();
  const auto without_value = [](const std::string& name) {  // how far a knob is off is part of what is wrong
    return name.starts_with("clocked") ? name : name.substr(0, name.find('='));
  };
  const std::string wanted = without_value(lesson_->cases()[hidden_].name);
  for (const CoveredFault& covered : coverage(profile, expectations(profile), lesson_->meter()).faults)
    if (without_value(to_string(covered.hypothesis)) == wanted) return covered.detected_by.size();
  return std::nullopt;
}

}  // namespace switchwright
