#include "switchwright/report/trend_picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

#include "report/axes.hpp"
#include "report/svg.hpp"

namespace switchwright {

namespace {

using svg::Paint;
using svg::Scale;

constexpr double width_px = 960, left_px = 80, right_px = 920, panel_height = 150;

double days_of(Wall wall) { return std::chrono::duration<double, std::ratio<86400>>(wall.time_since_epoch()).count(); }

class Sheet {
 public:
  explicit Sheet(const std::vector<TrendPoint>& points) : points_(points) {
    if (points.empty()) return;
    first_ = last_ = days_of(points.front().started);
    for (const TrendPoint& point : points) {
      first_ = std::min(first_, days_of(point.started));
      last_ = std::max(last_, days_of(point.started));
    }
  }

  void panel(const std::string& title, double factor,
             const std::function<std::optional<double>(const TrendPoint&)>& value) {
    double low = 1e300, high = -1e300;
    for (const TrendPoint& point : points_)
      if (const auto v = value(point)) {
        low = std::min(low, *v * factor);
        high = std::max(high, *v * factor);
      }
    if (high < low) return;
    const double room = high > low ? 0.1 * (high - low) : std::max(0.1 * std::abs(high), 0.01);
    const double top = y_ + 34, bottom = top + panel_height;
    const Scale x{0.0, std::max(last_ - first_, 1.0), left_px, right_px},
        y{std::min(low - room, low), high + room, bottom, top};
    svg::frame(drawing_, x, y, "days since the first record", title);
    for (const TrendPoint& point : points_)
      if (const auto v = value(point)) {
        // Failed ones are squares, others dots: a black and white print tells them apart.
        const double at_x = x.px(days_of(point.started) - first_), at_y = y.px(*v * factor);
        if (point.outcome == "fail")
          drawing_.rect(at_x - 4, at_y - 4, 8, 8, svg::fill(Paint::fail));
        else
          drawing_.circle(at_x, at_y, 3.6, svg::fill(Paint::trace));
      }
    y_ = bottom + 46;
  }

  void faults() {
    const auto weeks = trend_groups(points_, TrendBy::week);
    std::size_t most = 0;
    for (const TrendGroup& week : weeks)
      for (const auto& [kind, count] : week.faults) most = std::max(most, count);
    if (most == 0) return;
    drawing_.text(left_px, y_ + 20, "Fault kinds by week: the bar is as long as the count", {13, "start", true});
    y_ += 34;
    for (const TrendGroup& week : weeks)
      for (const auto& [kind, count] : week.faults) {
        drawing_.text(16, y_ + 13, week.name, {13, "start", false, Paint::muted});
        const double length = 420.0 * static_cast<double>(count) / static_cast<double>(most);
        drawing_.rect(110, y_ + 2, length, 13, svg::fill(Paint::fail));
        drawing_.text(118 + length, y_ + 13, fmt::format("{} {}", count, kind));
        y_ += 20;
      }
  }

  std::string document(const std::string& title) {
    drawing_.text(16, 26, title, {16, "start", true});
    drawing_.text(16, y_ + 24, "Square: the record failed. Dot: it did not.", {13, "start", false, Paint::muted});
    return drawing_.document(y_ + 44, {"trend", title, {}});
  }

 private:
  const std::vector<TrendPoint>& points_;
  svg::Drawing drawing_{width_px};
  double y_ = 36, first_ = 0, last_ = 0;
};

}  // namespace

std::string trend_picture(const std::vector<TrendPoint>& points, const std::string& title) {
  Sheet sheet(points);
  sheet.panel("largest contact resistance (\xCE\xA9)", 1.0, [](const TrendPoint& p) { return p.contact_ohm; });
  sheet.panel("heater (\xCE\xA9)", 1.0, [](const TrendPoint& p) { return p.heater_ohm; });
  sheet.panel("duty (%)", 100.0, [](const TrendPoint& p) { return p.duty; });
  sheet.panel("period (s)", 1.0, [](const TrendPoint& p) { return p.period_s; });
  sheet.faults();
  return sheet.document(title);
}

}  // namespace switchwright
