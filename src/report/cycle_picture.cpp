#include "switchwright/report/cycle_picture.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include "report/cycle_sheet.hpp"

namespace switchwright {

namespace {

constexpr std::size_t kept_samples = 6000;
constexpr std::size_t kept_marks = 400;  // edges, cycles, events
constexpr std::size_t most_blocks = 800;

}  // namespace

void PictureMaker::PerCycle::add(double x) {
  if (!blocks.empty() && blocks.back().count < block) {
    Block& last = blocks.back();
    last = {std::min(last.min, x), std::max(last.max, x), last.sum + x, last.count + 1};
    return;
  }
  if (blocks.size() == most_blocks) {
    for (std::size_t i = 0; i < most_blocks / 2; ++i) {
      const Block& a = blocks[2 * i];
      const Block& b = blocks[2 * i + 1];
      blocks[i] = {std::min(a.min, b.min), std::max(a.max, b.max), a.sum + b.sum, a.count + b.count};
    }
    blocks.resize(most_blocks / 2);
    block *= 2;
  }
  blocks.push_back({x, x, x, 1});
}

PictureMaker::PictureMaker(std::string name, std::string unit, const Survey& survey, std::string id)
    : name_(std::move(name)),
      unit_(std::move(unit)),
      id_(std::move(id)),
      survey_(survey.result()),
      histogram_(survey.histogram()),
      columns_(picture_columns) {
  // Corrupt values far beyond the levels would flatten everything: then the axis ends and the caption says
  // so.
  const StateLevels& levels = survey_.levels;
  double from = survey_.min, to = survey_.max;
  if (levels.count == LevelCount::two && !levels.high_is_over_range) {
    const double reach = 15.0 * std::abs(levels.high - levels.low);
    y_cut_ = to > levels.high + reach || from < levels.low - reach;
    to = std::min(to, levels.high + reach);
    from = std::max(from, levels.low - reach);
  }
  if (levels.count == LevelCount::one) {  // the flicker of a steady level is not to fill the picture
    from = std::min(from, levels.low - 0.05 * std::abs(levels.low));
    to = std::max(to, levels.low + 0.05 * std::abs(levels.low));
  }
  const double room = to > from ? 0.06 * (to - from) : std::max(1.0, 0.1 * std::abs(to));
  y_min_ = from >= 0.0 && from <= 0.2 * to ? std::min(0.0, from) : from - room;
  y_max_ = to + room;
}

void PictureMaker::on_sample(const Sample& raw) {
  timeline_.feed(raw, [this](const TimedSample& sample) {
    if (first_samples_.size() < kept_samples) first_samples_.push_back(sample);
    const double span_s = survey_.last_s - survey_.first_s;
    if (sample.kind == SampleKind::under_range || span_s <= 0.0) return;
    const double value = sample.kind == SampleKind::over_range ? y_max_ : std::clamp(sample.value, y_min_, y_max_);
    const double share = (sample.t_s - survey_.first_s) / span_s;
    const auto at =
        static_cast<std::size_t>(std::clamp(share, 0.0, 1.0) * static_cast<double>(picture_columns - 1) + 0.5);
    Column& column = columns_[at];
    if (!column.any) column = {value, value, value, value, true};
    column.min = std::min(column.min, value);
    column.max = std::max(column.max, value);
    column.last = value;
  });
}

void PictureMaker::on_cycle(const Cycle& cycle) {
  if (first_cycles_.size() < kept_marks) first_cycles_.push_back(cycle);
  duty_.add(cycle.duty);
  period_s_.add(cycle.period_s);
}

void PictureMaker::on_event(const CycleEvent& event) {
  if (first_events_.size() < kept_marks) first_events_.push_back(event);
}

void PictureMaker::on_edge(const Edge& edge) {
  if (first_edges_.size() < kept_marks) first_edges_.push_back(edge);
}

std::string PictureMaker::trace_svg(const CycleSummary& summary) const {
  CycleSheet sheet(*this, summary);
  sheet.trace();
  return sheet.picture(id_ + "-trace", "Trace of " + name_);
}

std::string PictureMaker::cycles_svg(const CycleSummary& summary) const {
  CycleSheet sheet(*this, summary);
  sheet.cycles();
  return sheet.picture(id_ + "-cycles", "Duty and period per cycle of " + name_);
}

std::string PictureMaker::histogram_svg(const CycleSummary& summary) const {
  CycleSheet sheet(*this, summary);
  sheet.histogram();
  return sheet.picture(id_ + "-histogram", "Histogram of " + name_);
}

std::string PictureMaker::whole_svg(const CycleSummary& summary) const {
  CycleSheet sheet(*this, summary);
  sheet.trace();
  sheet.cycles();
  sheet.histogram();
  return sheet.document("Cycle timing of " + name_);
}

std::string unit_in(const std::string& column_name) {
  static constexpr std::array units{"V", "mV", "kV", "A", "mA", "W", "kW", "VA", "ohm", "Hz", "degC"};
  std::size_t end = column_name.size();
  while (end > 0 && (column_name[end - 1] == ')' || column_name[end - 1] == ']' || column_name[end - 1] == ' ')) --end;
  std::size_t from = end;
  while (from > 0 && std::isalpha(static_cast<unsigned char>(column_name[from - 1])) != 0) --from;
  const std::string word = column_name.substr(from, end - from);
  for (const char* unit : units) {
    const std::string known(unit);
    if (word == known) return known;
    const bool lower_case =
        from > 0 && column_name[from - 1] == '_' && word.size() == known.size() &&
        std::equal(word.begin(), word.end(), known.begin(), [](char a, char b) {
          return std::tolower(static_cast<unsigned char>(a)) == std::tolower(static_cast<unsigned char>(b));
        });
    if (lower_case) return known;
  }
  return {};
}

}  // namespace switchwright
