#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/picture.hpp"
#include "report/svg.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

using svg::Drawing;
using svg::Paint;

constexpr double width = 1000, lane = 16, group_gap = 7, top = 44;

/// Ohms to the picture's x. Below the first decade everything lies at the left edge, which stands for "next
/// to 0".
struct Axis {
  double begin = 0, left = 172, right = 912, open_to = 992;  ///< names, scale, what is open
  int first_decade = -2;
  int last_decade = 8;
  double x(double ohm) const {
    if (!(ohm > 0)) return left;
    const double at = (std::log10(ohm) - first_decade) / (last_decade - first_decade);
    return left + std::clamp(at, 0.0, 1.0) * (right - left);
  }
};

Axis axis_for(const View& view, const std::vector<Pair>& pairs) {
  Axis axis;
  double lowest = 0.1, highest = 1e7;
  for (const Pair& pair : pairs)
    for (const std::string& position : view.positions()) {
      const Cell cell = view.cell(position, pair);
      if (cell.expected != nullptr) {
        if (cell.expected->ohm.bounded_above()) highest = std::max(highest, cell.expected->ohm.max);
        if (cell.expected->sound_max_ohm) lowest = std::min(lowest, *cell.expected->sound_max_ohm);
      }
      if (cell.indication == nullptr) continue;
      if (cell.indication->beyond) highest = std::max(highest, *cell.indication->beyond);
      if (cell.indication->state == ReadingState::finite) highest = std::max(highest, cell.indication->value);
    }
  axis.first_decade = std::max(-6, static_cast<int>(std::floor(std::log10(lowest))) - 1);
  axis.last_decade = std::min(15, static_cast<int>(std::ceil(std::log10(highest) - 1e-9)));
  return axis;
}

void draw_scale(Drawing& drawing, const Axis& axis, double from, double to) {
  // Narrow decades are labelled every third one.
  const bool narrow = (axis.right - axis.left) / (axis.last_decade - axis.first_decade) < 60;
  for (int decade = axis.first_decade; decade <= axis.last_decade; ++decade) {
    const double x = axis.x(std::pow(10.0, decade));
    drawing.line(x, from, x, to, Paint::grid);
    if (narrow && decade % 3 != 0 && decade != axis.first_decade) continue;
    if (narrow && decade != axis.first_decade && decade - axis.first_decade < 3) continue;
    const double ohm = std::pow(10.0, decade);
    const std::string words =
        svg::with_ohm_sign(decade < 0 && decade >= -3 ? fmt::format("{:g} mohm", ohm * 1e3) : human_ohm(ohm));
    // The left edge also stands for whatever is smaller, down to 0.
    const std::string label = decade == axis.first_decade ? fmt::format("\xE2\x89\xA4 {}", words) : words;
    const char* anchor = decade == axis.last_decade ? "end" : "middle";
    for (const double y : {from - 8, to + 16}) drawing.text(x, y, label, {11, anchor, false, Paint::muted});
  }
  const double right = axis.right, open_to = axis.open_to;
  drawing.line(right + 8, from, right + 8, to, Paint::frame, 1, "stroke-dasharray=\"2 3\"");
  drawing.text((right + 8 + open_to) / 2, from - 8, "open", {11, "middle", true, Paint::muted});
  drawing.text((right + 8 + open_to) / 2, to + 16, "open", {11, "middle", true, Paint::muted});
}

void draw_expected(Drawing& drawing, const Axis& axis, const Expectation& expected, double y) {
  if (expected.state == PairState::not_checked) return;
  const double from = expected.state == PairState::closed ? axis.left : axis.x(expected.ohm.min);
  const double to = expected.ohm.bounded_above() ? axis.x(expected.ohm.max) : axis.open_to;
  drawing.rect(from, y - 6.5, std::max(3.0, to - from), 13, svg::fill(Paint::band), 2);
}

void draw_point(Drawing& drawing, Mark mark, double x, double y) {
  switch (mark) {
    case Mark::fail:
      drawing.path(fmt::format("M{:g} {:g} l6.5 6.5 l-6.5 6.5 l-6.5 -6.5 z", x, y - 6.5), svg::fill(Paint::fail));
      drawing.path(fmt::format("M{:g} {:g} l4.4 4.4 m0 -4.4 l-4.4 4.4", x - 2.2, y - 2.2),
                   svg::stroke(Paint::paper, 1.5));
      break;
    case Mark::undecided:
      drawing.rect(x - 4.5, y - 4.5, 9, 9, svg::fill(Paint::paper));
      drawing.rect(x - 4.5, y - 4.5, 9, 9, svg::stroke(Paint::undecided, 2));
      break;
    case Mark::not_sound:
      drawing.path(fmt::format("M{:g} {:g} l5.5 9.5 l-11 0 z", x, y - 6), svg::fill(Paint::not_sound));
      break;
    default: drawing.circle(x, y, 3, svg::fill(mark == Mark::pass ? Paint::pass : Paint::muted));
  }
}

void draw_reading(Drawing& drawing, const Axis& axis, const Cell& cell, double y) {
  const Indication& shown = *cell.indication;
  const double right = axis.right, open_to = axis.open_to;
  const Paint paint = cell.mark == Mark::fail        ? Paint::fail
                      : cell.mark == Mark::undecided ? Paint::undecided
                                                     : Paint::pass;
  if (shown.state == ReadingState::over_range) {
    // All that is known: more than the range. An arrow from there into the open.
    const double from = shown.beyond ? axis.x(*shown.beyond) : right + 8;
    drawing.line(from, y, open_to - 8, y, paint, 2, cell.mark == Mark::undecided ? "stroke-dasharray=\"4 3\"" : "");
    drawing.line(from, y - 4, from, y + 4, paint, 2);
    drawing.path(fmt::format("M{:g} {:g} l8 4.5 l-8 4.5 z", open_to - 10, y - 4.5), svg::fill(paint));
    if (cell.mark != Mark::pass) draw_point(drawing, cell.mark, (right + open_to) / 2, y);
    return;
  }
  if (shown.state != ReadingState::finite) return;
  const double value = cell.finding != nullptr ? cell.finding->corrected.value_or(shown.value) : shown.value;
  if (cell.finding != nullptr && cell.finding->U) {
    const double from = axis.x(value - *cell.finding->U), to = axis.x(value + *cell.finding->U);
    drawing.line(from, y, to, y, paint, 1.6);
    for (const double end : {from, to})
      if (end > axis.left) drawing.line(end, y - 3.5, end, y + 3.5, paint, 1.6);
  }
  draw_point(drawing, cell.mark, axis.x(value), y);
}

void draw_legend(Drawing& drawing, double left, double y) {
  drawing.rect(left, y - 5, 34, 10, svg::fill(Paint::band), 2);
  drawing.text(left + 42, y + 4, "where it must lie", {11.5, "start", false, Paint::muted});
  drawing.line(left + 160, y, left + 194, y, Paint::pass, 1.6);
  draw_point(drawing, Mark::pass, left + 177, y);
  drawing.text(left + 202, y + 4, "reading with U, passes", {11.5, "start", false, Paint::muted});
  draw_point(drawing, Mark::fail, left + 352, y);
  drawing.text(left + 364, y + 4, "fails", {11.5, "start", false, Paint::muted});
  draw_point(drawing, Mark::undecided, left + 414, y);
  drawing.text(left + 426, y + 4, "undecided", {11.5, "start", false, Paint::muted});
  draw_point(drawing, Mark::not_sound, left + 506, y);
  drawing.text(left + 518, y + 4, "not sound", {11.5, "start", false, Paint::muted});
  drawing.line(left + 594, y, left + 622, y, Paint::pass, 2);
  drawing.line(left + 594, y - 4, left + 594, y + 4, Paint::pass, 2);
  drawing.path(fmt::format("M{:g} {:g} l8 4.5 l-8 4.5 z", left + 620, y - 4.5), svg::fill(Paint::pass));
  drawing.text(left + 634, y + 4, "more than the meter's range", {11.5, "start", false, Paint::muted});
}

double height_of(const View& view, const Pair& pair) {
  double height = 0;
  for (const std::string& position : view.positions())
    if (view.cell(position, pair).mark != Mark::none) height += lane;
  return height > 0 ? height + group_gap : 0;
}

void draw_pair(Drawing& drawing, const View& view, const Axis& axis, const Pair& pair, double y) {
  bool first = true;
  for (const std::string& position : view.positions()) {
    const Cell cell = view.cell(position, pair);
    if (cell.mark == Mark::none) continue;
    const double middle = y + lane / 2;
    if (first) drawing.text(axis.begin, middle + 4, pair.first() + "\xE2\x80\x93" + pair.second(), {13, "start", true});
    first = false;
    drawing.text(axis.left - 10, middle + 4, view.label(position),
                 {11, "end", cell.mark == Mark::fail, cell.mark == Mark::fail ? Paint::fail : Paint::muted});
    if (cell.expected != nullptr) draw_expected(drawing, axis, *cell.expected, middle);
    if (cell.indication != nullptr)
      draw_reading(drawing, axis, cell, middle);
    else
      drawing.text(axis.left + 6, middle + 4, word_for(cell.mark), {10.5, "start", false, Paint::muted});
    y += lane;
  }
  if (!first) drawing.line(axis.begin, y + group_gap / 2, axis.open_to, y + group_gap / 2, Paint::grid);
}

}  // namespace

std::string axis_picture(const View& view, const std::vector<Pair>& pairs, int columns) {
  double all = 0;
  std::size_t lanes = 0;
  for (const Pair& pair : pairs) {
    all += height_of(view, pair);
    for (const std::string& position : view.positions())
      if (view.cell(position, pair).mark != Mark::none) ++lanes;
  }
  Drawing drawing(
      "axis", width, "Each reading with its uncertainty, on a logarithmic resistance axis",
      fmt::format("{} readings in ohm over the interval that each must lie in. The same numbers stand in the "
                  "table \"Every reading\".",
                  lanes));
  Axis axis = axis_for(view, pairs);
  // The pairs in order, each column as full as the others.
  std::vector<std::vector<Pair>> shares(1);
  double share = 0, height = 0;
  for (const Pair& pair : pairs) {
    if (share >= all / columns && static_cast<int>(shares.size()) < columns) {
      shares.emplace_back();
      share = 0;
    }
    share += height_of(view, pair);
    height = std::max(height, share);
    shares.back().push_back(pair);
  }
  for (std::size_t column = 0; column < shares.size(); ++column) {
    if (columns > 1) {
      const double step = width / columns;
      axis.begin = step * static_cast<double>(column);
      axis.left = axis.begin + 132;
      axis.open_to = axis.begin + step - 14;
      axis.right = axis.open_to - 56;
    }
    draw_scale(drawing, axis, top - 6, top + height);
    double y = top;
    for (const Pair& pair : shares[column]) {
      draw_pair(drawing, view, axis, pair, y);
      y += height_of(view, pair);
    }
  }
  draw_legend(drawing, columns > 1 ? 0 : axis.left, top + height + 42);
  return drawing.finish(top + height + 58);
}

}  // namespace switchwright
