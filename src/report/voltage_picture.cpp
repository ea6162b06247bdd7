// The voltages under power as a picture: pairs down, knob positions across, laid out like the matrix of
// resistances so that the two can be read side by side. Live and dead are told by shape and number, not by
// colour.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "report/picture.hpp"
#include "report/svg.hpp"
#include "report/voltage_grid.hpp"
#include "report/voltages.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

using svg::Drawing;
using svg::Paint;

constexpr double label_width = 128, row_height = 46, gap = 5, head_height = 58;
/// From this share of the supply on a reading is drawn as live, below a twentieth as dead. Drawing only: the
/// verdict comes from the profile's bands.
constexpr double drawn_live_from = 0.25, drawn_dead_below = 0.05;

void live_symbol(Drawing& drawing, double x, double y, Paint paint) {
  drawing.path(fmt::format("M{:.1f} {:.1f} l-7 12 h6 l-3 10 l10 -14 h-6 l4 -8 Z", x + 1, y - 11), svg::fill(paint));
}

void dead_symbol(Drawing& drawing, double x, double y, Paint paint) {
  drawing.circle(x, y, 7.5, svg::stroke(paint, 2));
}

void between_symbol(Drawing& drawing, double x, double y, Paint paint) {
  drawing.path(fmt::format("M{:.1f} {:.1f} q4 -9 9 0 q5 9 9 0", x - 9, y), svg::stroke(paint, 2.2));
}

double supply_of(const Verdict& verdict) {
  for (const VoltageFinding& f : verdict.supply)
    if (f.volts && *f.volts > 0.0) return *f.volts;
  for (const VoltageFinding& f : verdict.supply)
    if (f.expected.nominal_v) return *f.expected.nominal_v;
  double most = 1.0;
  for (const VoltageFinding& f : verdict.voltages) most = std::max(most, f.volts.value_or(0.0));
  return most;
}

std::string describe(const View& view, const VoltageGrid& grid) {
  std::string text = fmt::format("{} pairs by {} knob positions.", grid.pairs.size(), grid.positions.size());
  for (const Outcome outcome : {Outcome::fail, Outcome::undecided}) {
    std::vector<std::string> where;
    for (const auto& [place, finding] : grid.at)
      if (finding->outcome == outcome) where.push_back(place.second.text() + " at " + view.label(place.first));
    if (!where.empty())
      text += fmt::format(" {}: {}.", outcome == Outcome::fail ? "FAIL" : "undecided", joined_with_and(where));
  }
  return text;
}

void knob(Drawing& drawing, double x, double y, double angle_deg) {
  const double angle = (angle_deg - 90) * std::numbers::pi / 180;
  drawing.circle(x, y, 10, svg::stroke(Paint::muted, 1.4));
  drawing.line(x, y, x + 9 * std::cos(angle), y + 9 * std::sin(angle), Paint::ink, 2.6, "stroke-linecap=\"round\"");
}

std::string first_line(const VoltageFinding& f) {
  return f.volts ? value_text(*f.volts, f.U, Quantity::voltage_ac, f.indication.resolution) : shown_text(f.indication);
}

std::string second_line(const VoltageFinding& f) {
  if (f.outcome == Outcome::fail) {
    const bool dead_only = f.expected.bands.size() == 1 && f.expected.bands.front().min <= 0.0;
    if (f.expected.state == VoltageState::not_checked || dead_only) return "FAIL: must be dead";
    return f.kind == DeviationKind::dead ? "FAIL: must be live" : "FAIL: out of band";
  }
  std::string text;
  if (f.U && f.volts)
    text = "\xC2\xB1 " + uncertainty_text(*f.volts, *f.U, Quantity::voltage_ac, f.indication.resolution);
  if (f.outcome == Outcome::undecided) return text.empty() ? "undecided" : text + ", undecided";
  if (f.expected.bands.size() > 1) return text + ", cycles";
  return text;
}

void draw_cell(Drawing& drawing, const VoltageFinding* finding, double supply_v, double x, double y, double w) {
  const double h = row_height - gap, middle = y + h / 2;
  if (finding == nullptr) {
    drawing.rect(x + 0.5, y + 0.5, w - 1, h - 1, svg::stroke(Paint::frame, 1) + " stroke-dasharray=\"2 4\"", 5);
    drawing.text(x + w / 2, middle + 4, "not measured", {12, "middle", false, Paint::muted});
    return;
  }
  const bool failed = finding->outcome == Outcome::fail;
  if (failed) {
    drawing.rect(x + 1.5, y + 1.5, w - 3, h - 3, svg::fill(Paint::fail_cell), 5);
    drawing.rect(x + 1.5, y + 1.5, w - 3, h - 3, svg::stroke(Paint::fail, 3), 5);
  } else if (finding->outcome == Outcome::undecided) {
    drawing.rect(x + 1, y + 1, w - 2, h - 2, drawing.hatch(), 5);
    drawing.rect(x + 1, y + 1, w - 2, h - 2, svg::stroke(Paint::undecided, 1.6) + " stroke-dasharray=\"6 4\"", 5);
  } else {
    drawing.rect(x, y, w, h, svg::fill(Paint::cell), 5);
  }
  const Paint paint = failed ? Paint::fail : Paint::ink;
  if (finding->volts) {
    const double share = *finding->volts / supply_v;
    (share >= drawn_live_from   ? live_symbol
     : share < drawn_dead_below ? dead_symbol
                                : between_symbol)(drawing, x + 28, middle, paint);
  }
  const std::string below = second_line(*finding);
  drawing.text(x + 56, below.empty() ? middle + 5 : middle - 2, first_line(*finding), {14, "start", true, paint});
  if (!below.empty())
    drawing.text(x + 56, middle + 13, below, {10.5, "start", failed, failed ? Paint::fail : Paint::muted});
  const double mark_x = x + w - 17;
  if (failed)
    svg::fail_mark(drawing, mark_x, middle);
  else if (finding->outcome == Outcome::undecided)
    svg::undecided_mark(drawing, mark_x, middle);
  else
    svg::pass_mark(drawing, mark_x, middle);
}

double draw_legend(Drawing& drawing, double y) {
  double x = label_width;
  const auto item = [&](const char* words, auto&& mark) {
    mark(x + 9);
    drawing.text(x + 24, y + 4, words, {11.5, "start", false, Paint::muted});
    x += 24 + 6.1 * static_cast<double>(std::string_view(words).size()) + 22;
  };
  item("pass", [&](double at) { svg::pass_mark(drawing, at, y); });
  item("fail", [&](double at) { svg::fail_mark(drawing, at, y); });
  item("undecided", [&](double at) { svg::undecided_mark(drawing, at, y); });
  item("reads live", [&](double at) { live_symbol(drawing, at, y, Paint::ink); });
  item("reads dead", [&](double at) { dead_symbol(drawing, at, y, Paint::ink); });
  item("between", [&](double at) { between_symbol(drawing, at, y, Paint::ink); });
  return y + 16;
}

}  // namespace

std::string voltage_picture(const View& view, std::size_t most_pairs) {
  const Verdict& verdict = *view.verdict();
  VoltageGrid grid{verdict.voltages};
  std::stable_partition(grid.pairs.begin(), grid.pairs.end(),
                        [&](const Pair& pair) { return !view.touches_exposed_metal(pair); });
  if (grid.pairs.size() > most_pairs) {
    std::stable_partition(grid.pairs.begin(), grid.pairs.end(), [&](const Pair& pair) {
      return std::any_of(grid.positions.begin(), grid.positions.end(), [&](const std::string& position) {
        const VoltageFinding* finding = grid.find(position, pair);
        return finding != nullptr && finding->outcome != Outcome::pass;
      });
    });
    grid.pairs.erase(grid.pairs.begin() + static_cast<std::ptrdiff_t>(most_pairs), grid.pairs.end());
  }
  const double supply_v = supply_of(verdict);
  const auto columns = static_cast<double>(std::max<std::size_t>(grid.positions.size(), 1));
  const double column = std::max(188.0, (1000 - label_width) / columns);
  Drawing drawing("volts", label_width + column * columns,
                  "What was read between each two points under power at each knob position", describe(view, grid));
  double x = label_width;
  for (const std::string& position : grid.positions) {
    const double middle = x + (column - gap) / 2;
    if (const auto angle = view.angle_deg(position)) knob(drawing, middle, 18, *angle);
    drawing.text(middle, 46, view.label(position), {14, "middle", true});
    x += column;
  }
  double y = head_height;
  bool metal_begun = false;
  for (const Pair& pair : grid.pairs) {
    if (view.touches_exposed_metal(pair) && !metal_begun) {
      metal_begun = true;
      drawing.text(0, y + 14, "To exposed metal", {11.5, "start", true, Paint::muted});
      drawing.line(label_width, y + 10, label_width + column * columns - gap, y + 10, Paint::frame);
      y += 24;
    }
    const std::string part = view.across(pair);
    const double middle = y + (row_height - gap) / 2;
    drawing.text(0, part.empty() ? middle + 5 : middle - 1, pair.first() + "\xE2\x80\x93" + pair.second(),
                 {14, "start", true});
    if (!part.empty()) drawing.text(0, middle + 13, part, {11, "start", false, Paint::muted});
    x = label_width;
    for (const std::string& position : grid.positions) {
      draw_cell(drawing, grid.find(position, pair), supply_v, x, y, column - gap);
      x += column;
    }
    y += row_height;
  }
  return drawing.finish(draw_legend(drawing, y + 16) + 4);
}

}  // namespace switchwright
