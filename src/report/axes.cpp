#include "report/axes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace switchwright::svg {

std::vector<double> ticks(double from, double to, int wanted) {
  const double rough = (to - from) / std::max(wanted, 1);
  if (!(rough > 0.0) || !std::isfinite(rough)) return {};
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  const double digit = rough / power;
  const double step = power * (digit < 1.5 ? 1.0 : digit < 3.5 ? 2.0 : digit < 7.5 ? 5.0 : 10.0);
  std::vector<double> values;
  for (double i = std::ceil(from / step - 1e-9); i * step <= to + 1e-9 * step && values.size() < 100; i += 1.0)
    values.push_back(i * step);
  return values;
}

std::string tick_label(double value, double step) {
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 9);
  const std::string text = fmt::format("{:.{}f}", value, decimals);
  if (std::abs(value) >= 1e7) return fmt::format("{:g}", value);
  return std::abs(value) < 1e-6 * step && text.front() == '-' ? text.substr(1) : text;
}

void frame(Drawing& drawing, const Scale& x, const Scale& y, std::string_view x_title, std::string_view y_title,
           bool y_grid_labels, bool whole_x) {
  const double left = x.from_px, right = x.to_px, bottom = y.from_px, top = y.to_px;
  auto x_ticks = ticks(x.from, x.to, static_cast<int>((right - left) / 90.0));
  if (whole_x) std::erase_if(x_ticks, [](double value) { return std::abs(value - std::round(value)) > 1e-9; });
  const auto y_ticks = ticks(y.from, y.to, std::max(2, static_cast<int>((bottom - top) / 40.0)));
  const auto step = [](const std::vector<double>& t) { return t.size() > 1 ? t[1] - t[0] : 1.0; };
  if (y_grid_labels)
    for (const double value : y_ticks) {
      drawing.line(left, y.px(value), right, y.px(value), Paint::grid);
      drawing.text(left - 6, y.px(value) + 4, tick_label(value, step(y_ticks)), {13, "end", false, Paint::muted});
    }
  for (const double value : x_ticks) {
    drawing.line(x.px(value), bottom, x.px(value), bottom + 5, Paint::muted);
    drawing.text(x.px(value), bottom + 19, tick_label(value, step(x_ticks)), {13, "middle", false, Paint::muted});
  }
  drawing.line(left, bottom, right, bottom, Paint::muted);
  drawing.line(left, top, left, bottom, Paint::muted);
  drawing.text(right, bottom + 36, x_title, {13, "end"});
  drawing.text(left, top - 8, y_title);
}

}  // namespace switchwright::svg
