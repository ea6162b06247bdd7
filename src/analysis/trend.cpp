#include "switchwright/analysis/trend.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>

#include "switchwright/record/record_json.hpp"

namespace switchwright {

namespace {

constexpr const char* not_stated = "not stated";

void add_readings(const Verdict& verdict, TrendPoint& point) {
  for (const Finding& f : verdict.findings) {
    if (f.indication.state != ReadingState::finite || !f.corrected) continue;
    if (f.expected.state == PairState::closed)
      point.contact_ohm = std::max(point.contact_ohm.value_or(*f.corrected), *f.corrected);
    if (f.expected.state == PairState::element && !point.heater_ohm) point.heater_ohm = f.corrected;
  }
}

struct Sum {
  TrendFigure figure;
  double sum_of_squares = 0.0;  ///< of deviations from the running mean (Welford)
  void add(const std::optional<double>& value) {
    if (!value) return;
    ++figure.count;
    if (figure.count == 1) figure.min = figure.max = *value;
    figure.min = std::min(figure.min, *value);
    figure.max = std::max(figure.max, *value);
    const double delta = *value - figure.mean;
    figure.mean += delta / static_cast<double>(figure.count);
    sum_of_squares += delta * (*value - figure.mean);
  }
  std::optional<TrendFigure> take() {
    if (figure.count == 0) return std::nullopt;
    if (figure.count > 1) figure.sd = std::sqrt(sum_of_squares / static_cast<double>(figure.count - 1));
    return figure;
  }
};

}  // namespace

TimedFigures timed_figures(const Record& record) {
  TimedFigures figures;
  const auto* verdict = last_of<TraceVerdict>(record.results);
  const std::string load = verdict ? verdict->judgement.load_channel : std::string{};
  if (verdict) figures.position = verdict->position;
  for (const WorkResult& result : record.results) {
    const auto* channel = std::get_if<ChannelSummary>(&result.value);
    if (!channel || (!load.empty() && channel->channel != load)) continue;
    const CycleSummary& s = channel->summary;
    const bool steady = s.steady_from_cycle && s.steady.cycles > 0;
    const auto told = [&](const Figure CycleFigures::*figure) {
      const Figure& part = s.steady.*figure;
      return steady && part.mean ? part : s.all.*figure;
    };
    const Figure duty = told(&CycleFigures::duty), period_s = told(&CycleFigures::period_s);
    figures.duty = duty.mean;
    figures.duty_U = duty.U;
    figures.period_s = period_s.mean;
    figures.period_U_s = period_s.U;
    break;
  }
  return figures;
}

std::string iso_week(Wall wall, int utc_offset_min) {
  using namespace std::chrono;
  const sys_days day = floor<days>(wall + minutes(utc_offset_min));
  // The week belongs to the year that its Thursday is in (ISO 8601).
  const sys_days thursday = day + days{4 - static_cast<int>(weekday(day).iso_encoding())};
  const year_month_day date{thursday};
  const auto week = (thursday - sys_days(date.year() / January / 1)).count() / 7 + 1;
  return fmt::format("{:04}-W{:02}", static_cast<int>(date.year()), week);
}

std::optional<TrendPoint> trend_point(const Record& record, const std::string& fault) {
  const RecordHeader& h = record.header;
  if (!record.verdict || !record.chain_fault.empty() || h.kind == RecordKind::practice) return std::nullopt;
  TrendPoint point{h.id,
                   h.started,
                   iso_week(h.started, h.utc_offset_min.value_or(0)),
                   h.claim.supplier,
                   h.claim.lot,
                   word_for(record.verdict->outcome),
                   fault.substr(0, fault.find(':')),
                   {},
                   {},
                   {},
                   {}};
  if (point.outcome == "pass" || point.fault_kind == "none") point.fault_kind.clear();
  add_readings(*record.verdict, point);
  if (h.kind == RecordKind::trace) {
    const TimedFigures timed = timed_figures(record);
    point.duty = timed.duty;
    point.period_s = timed.period_s;
  }
  return point;
}

std::vector<TrendGroup> trend_groups(const std::vector<TrendPoint>& points, TrendBy by) {
  std::map<std::string, std::vector<const TrendPoint*>> members;
  for (const TrendPoint& point : points) {
    const std::string& name = by == TrendBy::week ? point.week : by == TrendBy::supplier ? point.supplier : point.lot;
    members[name].push_back(&point);
  }
  std::vector<TrendGroup> groups;
  for (const auto& [name, list] : members) {
    TrendGroup group;
    group.name = name.empty() ? not_stated : name;
    Sum contact, heater, duty, period;
    for (const TrendPoint* point : list) {
      ++group.records;
      group.failed += point->outcome == "fail";
      group.undecided += point->outcome == "undecided";
      if (!point->fault_kind.empty()) ++group.faults[point->fault_kind];
      contact.add(point->contact_ohm);
      heater.add(point->heater_ohm);
      duty.add(point->duty);
      period.add(point->period_s);
    }
    group.contact_ohm = contact.take();
    group.heater_ohm = heater.take();
    group.duty = duty.take();
    group.period_s = period.take();
    groups.push_back(std::move(group));
  }
  std::stable_partition(groups.begin(), groups.end(), [](const TrendGroup& group) { return group.name != not_stated; });
  return groups;
}

}  // namespace switchwright
