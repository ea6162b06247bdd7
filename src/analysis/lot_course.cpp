#include "switchwright/analysis/lot_course.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

#include "switchwright/core/text.hpp"
#include "switchwright/lot/curtailment.hpp"

namespace switchwright {

namespace {

int rank(const std::string& severity) { return severity == "minor" ? 1 : severity == "major" ? 2 : 3; }

/// When a bench check was out, nobody knows since when: what was tested after the last check that was in is doubtful.
struct Doubtful {
  Wall after{};
  Wall until{};
};

std::vector<Doubtful> doubtful_times(const std::vector<BenchCheckRow>& checks) {
  std::vector<Doubtful> times;
  Wall last_in{};
  for (std::size_t i = 0; i < checks.size();) {
    // Checks of one sitting stand under one record.
    std::size_t end = i;
    bool in = true;
    for (; end < checks.size() && checks[end].record == checks[i].record; ++end) in = in && checks[end].in;
    if (in)
      last_in = checks[end - 1].at;
    else
      times.push_back({last_in, checks[end - 1].at});
    i = end;
  }
  return times;
}

/// The last check of which every resistor was in.
Wall last_in(const std::vector<BenchCheckRow>& checks) {
  Wall at{};
  for (const BenchCheckRow& check : checks) {
    const bool in = std::all_of(checks.begin(), checks.end(),
                                [&](const BenchCheckRow& row) { return row.record != check.record || row.in; });
    if (in) at = std::max(at, check.at);
  }
  return at;
}

/// Nobody knows yet whether the bench still read well when they were tested.
int tested_since(const Record& lot, Wall check) {
  std::set<int> places;
  for (const LotUnitRow& row : lot.lot_units)
    if (row.what == "tested" && row.at > check) places.insert(row.place);
  return static_cast<int>(places.size());
}

/// What the rows of one unit at one place amount to.
void judge_place(LotPlaceState& place, const std::vector<const LotUnitRow*>& rows,
                 const std::vector<Doubtful>& doubts) {
  bool passed = false, failed = false, doubtful = false;
  const LotUnitRow* last = nullptr;
  bool lost = false;
  for (const LotUnitRow* row : rows) {
    if (!row->serial.empty()) place.serial = row->serial;
    place.retested = place.retested || row->retest;
    if (row->what == "begun") {
      place.open_record = row->record;
      if (place.record.empty()) place.record = row->record;
    }
    if (row->what == "lost") {
      lost = true;
      place.open_record.clear();
      place.why = "it was lost: " + row->text;
    }
    if (row->what != "tested") continue;
    last = row;
    place.open_record.clear();
    place.work_s += row->work_s;
    place.plan = row->plan;
    doubtful = std::any_of(doubts.begin(), doubts.end(),
                           [&](const Doubtful& time) { return row->at > time.after && row->at <= time.until; });
    if (row->outcome == "fail") {
      failed = true;
      const std::string severity = row->severity.empty() ? "critical" : row->severity;
      if (place.severity.empty() || rank(severity) > rank(place.severity)) place.severity = severity;
      place.record = row->record;
      place.why = row->text;
    } else if (!failed) {
      place.record = row->record;
    }
    passed = passed || row->outcome == "pass";
  }
  if (last == nullptr) {
    place.state = lost ? UnitState::lost : place.open_record.empty() ? UnitState::missing : UnitState::begun;
  } else if (failed && passed) {
    place.state = UnitState::undecided;
    place.why = "it failed once and passed once";
  } else if (doubtful) {
    place.state = UnitState::undecided;
    place.why = "the bench was found out of order after it was tested";
  } else if (failed) {
    place.state = UnitState::fail;
  } else if (lost) {
    place.state = last->outcome == "pass" ? UnitState::pass : UnitState::lost;
  } else if (!place.open_record.empty()) {
    place.state = UnitState::begun;
  } else if (last->outcome == "pass") {
    place.state = UnitState::pass;
    place.why.clear();
  } else {
    place.state = UnitState::undecided;
    place.why = last->text;
  }
  if (place.state != UnitState::fail) place.severity.clear();
}

std::vector<LotPlaceState> places_of(const Record& lot) {
  const auto doubts = doubtful_times(lot.bench_checks);
  std::vector<LotPlaceState> places;
  for (std::size_t i = 0; i < lot.lot->units.size(); ++i) {
    LotPlaceState place;
    place.place = static_cast<int>(i) + 1;
    place.unit = lot.lot->units[i];
    std::vector<const LotUnitRow*> rows;
    for (const LotUnitRow& row : lot.lot_units) {
      if (row.place != place.place) continue;
      if (row.what == "replaced") {
        // A unit that was tested and did not pass stays in the count, whatever was put in its place.
        if (std::any_of(rows.begin(), rows.end(),
                        [](const LotUnitRow* r) { return r->what == "tested" && r->outcome != "pass"; }))
          continue;
        place.unit = row.unit;
        place.replaced = true;
        rows.clear();
        place.serial.clear();
        continue;
      }
      rows.push_back(&row);
    }
    judge_place(place, rows, doubts);
    places.push_back(std::move(place));
  }
  return places;
}

LotClassCount count_of(const LotClassPlan& plan, const std::vector<LotPlaceState>& places) {
  LotClassCount count;
  count.plan = plan;
  for (const LotPlaceState& place : places) {
    // A critical defect that was seen counts, also in a unit that was drawn for another class alone (MIL-STD-105E reserves
    // the right to reject the lot at once when one is found; from memory).
    const bool seen_critical = place.state == UnitState::fail && place.severity == "critical";
    if (place.place > plan.sample_size) {
      count.defective_beyond += plan.severity == "critical" && seen_critical;
      continue;
    }
    if (place.state == UnitState::fail) count.defective += place.severity == plan.severity;
    count.undecided +=
        place.state == UnitState::undecided || place.state == UnitState::lost || place.state == UnitState::begun;
    count.missing += place.state == UnitState::missing;
  }
  SampleCount sample;
  sample.sample_size = plan.sample_size;
  sample.accept = plan.accept;
  sample.reject = plan.reject;
  sample.tested = plan.sample_size - count.undecided - count.missing;
  sample.defective = count.defective;
  sample.open = count.undecided;
  const Curtailment certain = curtailment(sample);
  count.rejected = certain.rejection_certain || count.defective_beyond > 0;
  count.acceptance_certain = certain.acceptance_certain;
  count.may_still_fail = static_cast<int>(certain.may_still_fail);
  count.between_numbers = certain.between_numbers;
  return count;
}

std::string counts_of(const LotClassCount& count) {
  return fmt::format("{}: {} defective among the {} units of its sample, rejected from {} on{}", count.plan.severity,
                     count.defective, count.plan.sample_size, count.plan.reject,
                     count.defective_beyond > 0
                         ? fmt::format(", and {} among those drawn for other classes", count.defective_beyond)
                         : "");
}

void add_sentence(std::string& text, const std::string& sentence) { text = sentences({text, sentence}); }

std::string units_in(const std::vector<LotPlaceState>& places, bool (*wanted)(const LotPlaceState&)) {
  constexpr std::size_t most_named = 8;
  std::vector<std::string> named;
  std::size_t count = 0;
  for (const LotPlaceState& place : places) {
    if (!wanted(place)) continue;
    if (++count <= most_named)
      named.push_back(place.serial.empty() ? fmt::format("unit {}", place.unit)
                                           : fmt::format("unit {} ({})", place.unit, place.serial));
  }
  return joined_with_and(named) + (count > most_named ? fmt::format(" and {} others", count - most_named) : "");
}

void decide(LotCourse& course, const std::vector<std::string>& record_faults) {
  for (const std::string& fault : record_faults) add_sentence(course.reason, fault);
  if (course.bench_is_out)
    add_sentence(course.reason,
                 "The latest bench check was out: put the bench right, check it again, and test again what was "
                 "tested since the last check that was in.");
  if (!course.reason.empty()) {
    course.decision = "hold";
    return;
  }
  if (course.rejection_certain) {
    course.decision = "reject";
    for (const LotClassCount& count : course.classes)
      if (count.rejected) {
        std::string sentence = counts_of(count) + ".";
        sentence.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(sentence.front())));
        add_sentence(course.reason, sentence);
      }
    return;
  }
  if (course.acceptance_certain && course.since_check > 0) {
    course.decision = "hold";
    add_sentence(
        course.reason,
        fmt::format("{} tested after the last bench check that was in, and nobody has looked whether the bench still "
                    "reads well: it is checked again at the end of the sample by switchwright lot run.",
                    course.since_check == 1 ? "One unit was" : fmt::format("{} units were", course.since_check)));
    return;
  }
  if (course.acceptance_certain) {
    course.decision = "accept";
    std::vector<std::string> parts;
    for (const LotClassCount& count : course.classes) parts.push_back(counts_of(count));
    std::string text;
    for (const std::string& part : parts) text += (text.empty() ? "" : "; ") + part;
    text += ".";
    text.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(text.front())));
    course.reason = text;
    for (const LotClassCount& count : course.classes)
      if (count.between_numbers)
        add_sentence(course.reason,
                     fmt::format("The {} count lies between acceptance and rejection number: this lot is accepted, "
                                 "and normal inspection is reinstated (MIL-STD-105E 4.7.4 b).",
                                 count.plan.severity));
    return;
  }
  course.decision = "hold";
  const auto is_open = [](const LotPlaceState& p) {
    return p.state == UnitState::undecided || p.state == UnitState::begun;
  };
  const auto is_lost = [](const LotPlaceState& p) { return p.state == UnitState::lost; };
  const auto count_if = [&](auto wanted) { return std::count_if(course.places.begin(), course.places.end(), wanted); };
  if (const auto open = count_if(is_open))
    add_sentence(course.reason,
                 fmt::format("{} undecided: {}.", open == 1 ? "One unit is" : fmt::format("{} units are", open),
                             units_in(course.places, is_open)));
  if (const auto lost = count_if(is_lost))
    add_sentence(course.reason, fmt::format("{} lost and not replaced: {}.",
                                            lost == 1 ? "One unit is" : fmt::format("{} units are", lost),
                                            units_in(course.places, is_lost)));
  if (const auto missing = count_if([](const LotPlaceState& p) { return p.state == UnitState::missing; }))
    add_sentence(course.reason, fmt::format("{} of the sample {} not tested.",
                                            missing == 1 ? "One unit" : fmt::format("{} units", missing),
                                            missing == 1 ? "is" : "are"));
}

}  // namespace

std::string to_string(UnitState state) {
  static constexpr std::array words{"missing", "begun", "pass", "fail", "undecided", "lost"};
  return words[static_cast<std::size_t>(state)];
}

const LotPlaceState* LotCourse::next() const {
  // What was begun is gone on with first.
  for (const UnitState wanted : {UnitState::begun, UnitState::missing})
    for (const LotPlaceState& place : places)
      if (place.state == wanted) return &place;
  return nullptr;
}

LotCourse course_of(const Record& lot, const std::vector<std::string>& record_faults) {
  LotCourse course;
  course.places = places_of(lot);
  for (const LotPlaceState& place : course.places) {
    course.passed += place.state == UnitState::pass;
    course.failed += place.state == UnitState::fail;
    course.done +=
        place.state == UnitState::pass || place.state == UnitState::fail || place.state == UnitState::undecided;
  }
  bool all_certain = !lot.lot->classes.empty();
  for (const LotClassPlan& plan : lot.lot->classes) {
    course.classes.push_back(count_of(plan, course.places));
    course.rejection_certain = course.rejection_certain || course.classes.back().rejected;
    all_certain = all_certain && course.classes.back().acceptance_certain;
  }
  course.acceptance_certain = all_certain && !course.rejection_certain;
  if (!lot.bench_checks.empty()) {
    const std::string& latest = lot.bench_checks.back().record;
    for (const BenchCheckRow& check : lot.bench_checks)
      if (check.record == latest && !check.in) course.bench_is_out = true;
  }
  if (!lot.lot->references.empty()) course.since_check = tested_since(lot, last_in(lot.bench_checks));
  decide(course, record_faults);
  return course;
}

}  // namespace switchwright
