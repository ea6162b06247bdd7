#include "report/lot_pictures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/svg.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/lot_report.hpp"

namespace switchwright {

using namespace svg;

namespace {

struct Scale {
  double from, to, top, height;
  double y(double value) const { return top + height * (to - value) / (to - from); }
};

std::vector<double> plain(const LotMeasurand& measurand) {
  std::vector<double> values;
  for (const LotValue& value : measurand.values) values.push_back(value.value);
  return values;
}

/// Room for every value and every limit that is drawn.
Scale scale_for(const std::vector<double>& values, const LotMeasurand& measurand,
                const std::optional<IndividualsChart>& chart, double top, double height) {
  auto [least, most] = std::minmax_element(values.begin(), values.end());
  double from = *least, to = *most;
  const auto hold = [&](std::optional<double> value) {
    if (!value) return;
    from = std::min(from, *value);
    to = std::max(to, *value);
  };
  hold(measurand.limits.lower);
  hold(measurand.limits.upper);
  if (chart) {
    hold(chart->lower);
    hold(chart->upper);
  }
  const double margin = std::max((to - from) * 0.06, 1e-9);
  return {from - margin, to + margin, top, height};
}

void level(Drawing& drawing, const Scale& scale, double right, double value, const std::string& words, Paint paint,
           const char* dash) {
  drawing.line(40, scale.y(value), right, scale.y(value), paint, 1.2, dash);
  drawing.text(right + 6, scale.y(value) + 4, words, {11, "start", false, paint});
}

}  // namespace

std::string values_picture(const LotMeasurand& measurand, int number) {
  const std::vector<double> values = plain(measurand);
  const auto chart = individuals_chart(values);
  const auto words = [&](double value) { return value_words(value, measurand.in); };
  constexpr double width = 1016, height = 236, right = 610, left = 52;
  Drawing drawing(
      fmt::format("values{}", number), width, measurand.name,
      "Every unit's value in the order measured, with the chart's limits and the profile's; beside it a histogram");
  const Scale scale = scale_for(values, measurand, chart, 22, 190);
  drawing.text(40, 14, "in the order measured", {12, "start", false, Paint::muted});
  drawing.text(760, 14, "histogram", {12, "start", false, Paint::muted});
  drawing.rect(40, scale.top, right - 40, scale.height, stroke(Paint::frame, 1));
  for (const auto& [value, which] :
       {std::pair{measurand.limits.lower, "lower limit"}, std::pair{measurand.limits.upper, "upper limit"}})
    if (value) level(drawing, scale, right, *value, fmt::format("{} {}", which, words(*value)), Paint::fail, "");
  if (chart) {
    level(drawing, scale, right, chart->centre, fmt::format("mean {}", words(chart->centre)), Paint::ink, "");
    for (const double value : {chart->lower, chart->upper})
      level(drawing, scale, right, value, "3 sigma " + words(value), Paint::muted, "stroke-dasharray=\"5 4\"");
  }
  const auto outside = [&](std::size_t i) {
    return (measurand.limits.lower && values[i] < *measurand.limits.lower) ||
           (measurand.limits.upper && values[i] > *measurand.limits.upper);
  };
  const double step = values.size() > 1 ? (right - left - 12) / static_cast<double>(values.size() - 1) : 0.0;
  std::string path;
  for (std::size_t i = 0; i < values.size(); ++i)
    path +=
        fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", left + step * static_cast<double>(i), scale.y(values[i]));
  drawing.path(path, stroke(Paint::muted, 0.8));
  for (std::size_t i = 0; i < values.size(); ++i)
    drawing.circle(left + step * static_cast<double>(i), scale.y(values[i]), 2.6,
                   fill(outside(i) ? Paint::fail : Paint::ink));
  const auto bars = histogram_of(values);
  std::size_t most = 1;
  for (const HistogramBar& bar : bars) most = std::max(most, bar.count);
  for (const HistogramBar& bar : bars) {
    const double top = scale.y(std::min(bar.to, scale.to)), bottom = scale.y(std::max(bar.from, scale.from));
    const double length = 200.0 * static_cast<double>(bar.count) / static_cast<double>(most);
    if (bar.count == 0 || bottom <= top) continue;
    drawing.rect(760, top, length, std::max(bottom - top - 1.0, 1.0), fill(Paint::band));
    drawing.text(764 + length, (top + bottom) / 2 + 4, std::to_string(bar.count), {11, "start", false, Paint::muted});
  }
  drawing.line(760, scale.top, 760, scale.top + scale.height, Paint::frame, 1);
  return drawing.finish(height);
}

std::string checks_picture(const std::vector<BenchCheckRow>& checks) {
  constexpr double width = 1016, middle = 66, half = 40;
  Drawing drawing("checks", width, "Bench checks",
                  "How far each reading of a reference resistor was off, as a share of what is allowed");
  drawing.text(40, 14, "reading of each reference resistor less its value, as a share of what is allowed",
               {12, "start", false, Paint::muted});
  for (const double share : {-1.0, 0.0, 1.0}) {
    drawing.line(40, middle - share * half, 900, middle - share * half, share == 0.0 ? Paint::frame : Paint::fail, 1);
    drawing.text(906, middle - share * half + 4, share == 0.0 ? "0" : fmt::format("{:+.0f} allowed", share),
                 {11, "start", false, Paint::muted});
  }
  const double step = std::min(60.0, 840.0 / static_cast<double>(std::max<std::size_t>(checks.size(), 1)));
  for (std::size_t i = 0; i < checks.size(); ++i) {
    const BenchCheckRow& row = checks[i];
    const double share =
        row.read_ohm && row.limit_ohm > 0.0 ? std::clamp((*row.read_ohm - row.ohm) / row.limit_ohm, -1.4, 1.4) : 1.4;
    const double x = 56 + step * static_cast<double>(i);
    drawing.circle(x, middle - share * half, 3.4, fill(row.in ? Paint::ink : Paint::fail));
    drawing.text(x, 138, row.reference, {10, "middle", !row.in, row.in ? Paint::muted : Paint::fail});
  }
  return drawing.finish(146);
}

std::string mode_picture(const std::vector<LotOfSupplier>& history) {
  constexpr double width = 1016, top = 34, row = 30;
  Drawing drawing("modes", width, "Course of the inspection mode",
                  "One mark for each lot: its mode, and whether it was accepted");
  const std::vector<std::string> modes{"tightened", "normal", "reduced"};
  for (std::size_t i = 0; i < modes.size(); ++i) {
    const double y = top + row * static_cast<double>(i);
    drawing.text(84, y + 4, modes[i], {12, "end", false, Paint::muted});
    drawing.line(94, y, width - 20, y, Paint::grid, 1);
  }
  const double step = std::min(64.0, 880.0 / static_cast<double>(std::max<std::size_t>(history.size(), 1)));
  std::string path;
  for (std::size_t i = 0; i < history.size(); ++i) {
    const LotOfSupplier& lot = history[i];
    const auto at = std::find(modes.begin(), modes.end(), lot.mode) - modes.begin();
    const double x = 120 + step * static_cast<double>(i), y = top + row * static_cast<double>(at);
    path += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", x, y);
  }
  drawing.path(path, stroke(Paint::muted, 1.2));
  for (std::size_t i = 0; i < history.size(); ++i) {
    const LotOfSupplier& lot = history[i];
    const auto at = std::find(modes.begin(), modes.end(), lot.mode) - modes.begin();
    const double x = 120 + step * static_cast<double>(i), y = top + row * static_cast<double>(at);
    drawing.circle(x, y, 11, fill(Paint::paper));
    if (lot.decision == "accept")
      pass_mark(drawing, x, y);
    else if (lot.decision == "reject")
      fail_mark(drawing, x, y);
    else
      undecided_mark(drawing, x, y);
    drawing.text(x, top + row * 3 + 6, std::to_string(i + 1), {10, "middle", false, Paint::muted});
  }
  return drawing.finish(top + row * 3 + 16);
}

}  // namespace switchwright
