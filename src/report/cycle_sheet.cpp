#include "report/cycle_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace switchwright {

using svg::Paint;
using svg::Scale;

namespace {

constexpr double left_px = 70.0, right_px = 880.0;
constexpr std::size_t drawn_one_by_one = 1600;  // samples; beyond that columns
constexpr std::size_t detail_cycles = 10;

constexpr const char* level_dashes = "stroke-dasharray=\"7 3\"";
constexpr const char* reference_dashes = "stroke-dasharray=\"3 3\"";

std::string trace_line() { return svg::stroke(Paint::trace, 1.3) + " stroke-linejoin=\"round\""; }

struct TimeUnit {
  double seconds;
  const char* name;
};

TimeUnit time_unit(double span_s) {
  if (span_s <= 300.0) return {1.0, "s"};
  if (span_s <= 4.0 * 3600.0) return {60.0, "min"};
  if (span_s <= 5.0 * 86400.0) return {3600.0, "h"};
  return {86400.0, "days"};
}

}  // namespace

void CycleSheet::trace() {
  const bool one_by_one = m_.survey_.samples <= drawn_one_by_one;
  heading(fmt::format("{}: trace, {} samples, {} complete cycles", m_.name_, s_.samples, s_.complete_cycles));
  panel(m_.survey_.first_s, m_.survey_.last_s, 260.0, one_by_one ? Drawn::samples : Drawn::columns);
  if (m_.y_cut_) caption("Values far beyond the levels are cut off at the edge of the picture.");
  if (!one_by_one) caption("Each pixel column spans its smallest and largest value.");
  const double end_s = detail_end_s();
  if (one_by_one || end_s <= 0.0 || end_s > 0.6 * m_.survey_.last_s + 0.4 * m_.survey_.first_s) return;
  heading(fmt::format("{}: the first {} cycles", m_.name_, detail_cycles));
  panel(m_.survey_.first_s, end_s, 200.0, Drawn::samples);
}

void CycleSheet::cycles() {
  heading(fmt::format("{}: duty and period of {} complete cycles", m_.name_, s_.complete_cycles));
  if (s_.complete_cycles == 0) {
    caption("There is no complete cycle.");
    return;
  }
  per_cycle(m_.duty_, s_.all.duty, "duty", "");
  per_cycle(m_.period_s_, s_.all.period_s, "period (s)", "s");
  if (m_.duty_.block > 1)
    caption(fmt::format("Each point is the mean of {} cycles; the band spans their smallest and largest value.",
                        m_.duty_.block));
  if (s_.steady_from_cycle && *s_.steady_from_cycle > 1)
    caption(fmt::format("Steady from cycle {} (upright line).", *s_.steady_from_cycle));
}

void CycleSheet::histogram() {
  heading(fmt::format("{}: histogram of samples", m_.name_));
  const double top = y_ + 30, bottom = top + 200;
  std::vector<double> counts(108, 0.0);
  for (const auto& bin : m_.histogram_) {
    const double share = (bin.value - m_.y_min_) / (m_.y_max_ - m_.y_min_);
    const auto at = static_cast<std::size_t>(
        std::clamp(share * static_cast<double>(counts.size()), 0.0, static_cast<double>(counts.size()) - 0.5));
    counts[at] += static_cast<double>(bin.count);
  }
  const double most = std::max(10.0, *std::max_element(counts.begin(), counts.end()));
  const double decades = std::ceil(std::log10(most) + 0.01);
  const Scale x{m_.y_min_, m_.y_max_, left_px, right_px}, y{0.0, decades, bottom, top};
  // Counts reach from one to millions: a logarithmic axis keeps rare pulses visible. One sample has a
  // height, too.
  for (double decade = 0.0; decade <= decades; decade += decades > 6 ? 2.0 : 1.0) {
    drawing_.line(left_px, y.px(decade), right_px, y.px(decade), Paint::grid);
    drawing_.text(left_px - 6, y.px(decade) + 4,
                  decade < 3 ? fmt::format("{:g}", std::pow(10, decade)) : fmt::format("1e{:g}", decade),
                  {13, "end", false, Paint::muted});
  }
  const double wide = (right_px - left_px) / static_cast<double>(counts.size());
  for (std::size_t i = 0; i < counts.size(); ++i) {
    if (counts[i] <= 0.0) continue;
    const double height = std::max(2.0, bottom - y.px(std::log10(counts[i])));
    drawing_.rect(left_px + wide * static_cast<double>(i) + 0.5, bottom - height, wide - 1.0, height,
                  svg::fill(Paint::trace));
  }
  svg::frame(drawing_, x, y, value_title(), "samples (logarithmic)", false);
  double row = top + 11;
  for (const Label& label : level_labels()) {
    drawing_.line(x.px(label.at), top, x.px(label.at), bottom, label.paint, 1.2, label.dashes);
    // Names stand on rows of their own: two levels may be near each other.
    const bool near_right = x.px(label.at) > right_px - 110.0;
    drawing_.text(x.px(label.at) + (near_right ? -4 : 4), row, label.name + " " + label.value,
                  {11, near_right ? "end" : "start", false, label.paint});
    row += 13;
  }
  y_ = bottom + 50;
}

std::string CycleSheet::picture(const std::string& id, const std::string& title) const {
  return drawing_.finish(y_ + 8, {id, title, {}});
}

std::string CycleSheet::document(const std::string& title) const {
  return drawing_.document(y_ + 8, {"picture", title, {}});
}

std::string CycleSheet::value_title() const { return m_.unit_.empty() ? "value" : "value (" + m_.unit_ + ")"; }

/// As many decimals as a thousandth of the step needs.
std::string CycleSheet::level_text(double level) const {
  const double step = std::abs(m_.survey_.levels.step());
  const double scale = step > 0.0 ? step : std::abs(level);
  const int decimals = scale > 0.0 ? std::clamp(static_cast<int>(std::ceil(2.0 - std::log10(scale))), 0, 9) : 0;
  const std::string number = fmt::format("{:.{}f}", level, decimals);
  return m_.unit_.empty() ? number : number + " " + m_.unit_;
}

std::vector<CycleSheet::Label> CycleSheet::level_labels() const {
  std::vector<Label> labels;
  if (s_.low_level) labels.push_back({*s_.low_level, "low", level_text(*s_.low_level), Paint::level, level_dashes});
  if (s_.reference_level)
    labels.push_back(
        {*s_.reference_level, "50 %", level_text(*s_.reference_level), Paint::reference, reference_dashes});
  if (s_.high_level) labels.push_back({*s_.high_level, "high", level_text(*s_.high_level), Paint::level, level_dashes});
  return labels;
}

void CycleSheet::heading(const std::string& text) {
  drawing_.text(16, y_ + 24, text, {16, "start", true});
  y_ += 34;
}

void CycleSheet::caption(const std::string& text) {
  drawing_.text(left_px, y_ + 12, text, {13, "start", false, Paint::muted});
  y_ += 20;
}

/// When the first cycles end, s; 0 when the kept samples do not reach that far.
double CycleSheet::detail_end_s() const {
  if (m_.first_cycles_.size() <= detail_cycles || m_.first_samples_.empty()) return 0.0;
  const Cycle& last = m_.first_cycles_[detail_cycles - 1];
  const double end_s = last.start_s + last.period_s * 1.1;
  return m_.first_samples_.back().t_s >= end_s ? end_s : 0.0;
}

void CycleSheet::panel(double from_s, double to_s, double height, Drawn drawn) {
  const double top = y_ + 30, bottom = top + height;
  const TimeUnit unit = time_unit(to_s - from_s);
  const Scale x{0.0, (to_s - from_s) / unit.seconds, left_px, right_px}, y{m_.y_min_, m_.y_max_, bottom, top};
  const Scale seconds{from_s, to_s, left_px, right_px};
  const auto at = [&](double t_s) { return std::clamp(seconds.px(t_s), left_px, right_px); };
  const auto inside = [&](double t_s) { return t_s >= from_s && t_s <= to_s; };
  const std::size_t edges_here = static_cast<std::size_t>(
      std::count_if(m_.first_edges_.begin(), m_.first_edges_.end(), [&](const Edge& e) { return inside(e.t_s); }));
  const bool marks = edges_here <= 120 && (drawn == Drawn::samples || s_.edges <= 120);
  if (marks)
    for (const Cycle& cycle : m_.first_cycles_)
      if (inside(cycle.start_s))
        drawing_.rect(at(cycle.start_s), top, std::max(0.0, at(cycle.start_s + cycle.on_s) - at(cycle.start_s)),
                      bottom - top, svg::fill(Paint::on));
  for (const CycleEvent& event : m_.first_events_)
    if (event.kind == CycleEventKind::gap && inside(event.t_s))
      drawing_.rect(at(event.t_s), top, std::max(2.0, at(std::min(to_s, event.t_s + event.duration_s)) - at(event.t_s)),
                    bottom - top, svg::fill(Paint::gap));
  svg::frame(drawing_, x, y, fmt::format("time since start ({})", unit.name), value_title());
  if (drawn == Drawn::samples)
    draw_samples(from_s, to_s, seconds, y);
  else
    draw_columns(y);
  labels_beside(y, level_labels());
  if (marks && s_.reference_level)
    for (const Edge& edge : m_.first_edges_)
      if (inside(edge.t_s) && edge.certain)
        drawing_.circle(at(edge.t_s), y.px(*s_.reference_level), 2.6, svg::fill(Paint::reference));
  if (marks && edges_here <= 24)
    for (const Cycle& cycle : m_.first_cycles_)
      if (inside(cycle.start_s) && at(cycle.start_s + cycle.period_s) - at(cycle.start_s) > 26)
        drawing_.text(0.5 * (at(cycle.start_s) + at(cycle.start_s + cycle.on_s)), top + 12,
                      fmt::format("{}", cycle.index), {11, "middle", false, Paint::muted});
  y_ = bottom + 46;
}

void CycleSheet::draw_samples(double from_s, double to_s, const Scale& seconds, const Scale& y) {
  std::string path;
  bool pen_down = false;
  for (const TimedSample& sample : m_.first_samples_) {
    if (sample.t_s < from_s || sample.t_s > to_s) continue;
    const bool gap = sample.clock_step || (m_.survey_.gap_over_s > 0.0 && sample.dt_s > m_.survey_.gap_over_s);
    if (sample.kind == SampleKind::under_range) continue;
    const double value =
        sample.kind == SampleKind::over_range ? m_.y_max_ : std::clamp(sample.value, m_.y_min_, m_.y_max_);
    fmt::format_to(std::back_inserter(path), "{}{:.1f} {:.1f}", pen_down && !gap ? "L" : "M", seconds.px(sample.t_s),
                   y.px(value));
    pen_down = true;
  }
  if (!path.empty()) drawing_.path(path, trace_line());
}

void CycleSheet::draw_columns(const Scale& y) {
  std::string path;
  const PictureMaker::Column* previous = nullptr;
  for (std::size_t i = 0; i < m_.columns_.size(); ++i) {
    const auto& column = m_.columns_[i];
    if (!column.any) continue;
    const double px =
        left_px + static_cast<double>(i) * (right_px - left_px) / static_cast<double>(picture_columns - 1);
    const double from = previous != nullptr && i > 0 && m_.columns_[i - 1].any ? previous->last : column.first;
    const double low = std::min(column.min, from), high = std::max(column.max, from);
    const double top = y.px(high), tall = std::max(1.3, y.px(low) - top);
    fmt::format_to(std::back_inserter(path), "M{:.1f} {:.1f}h1.1v{:.1f}h-1.1z", px - 0.5, top, tall);
    previous = &column;
  }
  if (!path.empty()) drawing_.path(path, svg::fill(Paint::envelope));
}

void CycleSheet::labels_beside(const Scale& y, std::vector<Label> labels) {
  // From the bottom up (labels come ascending); each needs 26 pixels.
  double free_below = 1e9;
  for (const Label& label : labels) {
    const double line_y = y.px(label.at);
    const double text_y = std::min(line_y, free_below);
    free_below = text_y - 26.0;
    drawing_.line(left_px, line_y, right_px, line_y, label.paint, 1.2, label.dashes);
    drawing_.text(right_px + 4, text_y - 2, label.name, {11, "start", false, label.paint});
    drawing_.text(right_px + 4, text_y + 10, label.value, {11, "start", false, label.paint});
  }
}

void CycleSheet::per_cycle(const PictureMaker::PerCycle& values, const Figure& figure, const char* title,
                           const std::string& unit) {
  const double top = y_ + 30, bottom = top + 150;
  double low = 1e300, high = -1e300;
  for (const auto& block : values.blocks) {
    low = std::min(low, block.min);
    high = std::max(high, block.max);
  }
  if (figure.mean) {  // what is less than its uncertainty, or a hundredth, is no movement to look at
    const double reach = std::max(figure.U.value_or(0.0), 0.01 * std::abs(*figure.mean));
    low = std::min(low, *figure.mean - reach);
    high = std::max(high, *figure.mean + reach);
  }
  const double room = high > low ? 0.08 * (high - low) : std::max(0.01, 0.1 * std::abs(high));
  const double cycles = static_cast<double>(s_.complete_cycles);
  const Scale x{0.5, cycles + 0.5, left_px, right_px};
  const Scale y{std::max(0.0, low - room), high + room, bottom, top};
  svg::frame(drawing_, x, y, "cycle", title, true, true);
  std::string band, mean;
  double first_index = 1.0;
  std::vector<std::pair<double, const PictureMaker::PerCycle::Block*>> places;
  for (const auto& block : values.blocks) {
    places.emplace_back(x.px(first_index + 0.5 * static_cast<double>(block.count - 1)), &block);
    first_index += static_cast<double>(block.count);
  }
  for (const auto& place : places)
    fmt::format_to(std::back_inserter(mean), "{}{:.1f} {:.1f}", mean.empty() ? "M" : "L", place.first,
                   y.px(place.second->sum / static_cast<double>(place.second->count)));
  if (values.block > 1) {
    for (const auto& place : places)
      fmt::format_to(std::back_inserter(band), "{}{:.1f} {:.1f}", band.empty() ? "M" : "L", place.first,
                     y.px(place.second->max));
    for (auto it = places.rbegin(); it != places.rend(); ++it)
      fmt::format_to(std::back_inserter(band), "L{:.1f} {:.1f}", it->first, y.px(it->second->min));
    drawing_.path(band + "z", svg::fill(Paint::band));
  }
  if (values.blocks.size() > 1) drawing_.path(mean, trace_line());
  if (values.blocks.size() <= 100)
    for (const auto& place : places)
      drawing_.circle(place.first, y.px(place.second->sum / static_cast<double>(place.second->count)), 2.6,
                      svg::fill(Paint::trace));
  if (figure.mean) {
    const std::string number = fmt::format("{:.4g}{}{}", *figure.mean, unit.empty() ? "" : " ", unit);
    labels_beside(y, {{*figure.mean, "mean", number, Paint::level, level_dashes}});
  }
  if (s_.steady_from_cycle && *s_.steady_from_cycle > 1) {
    const double px = x.px(static_cast<double>(*s_.steady_from_cycle) - 0.5);
    drawing_.line(px, top, px, bottom, Paint::mark, 1.3);
  }
  y_ = bottom + 42;
}

}  // namespace switchwright
