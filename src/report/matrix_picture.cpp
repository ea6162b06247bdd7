#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "report/picture.hpp"
#include "report/svg.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

using svg::Drawing;
using svg::Paint;

constexpr double label_width = 128, row_height = 46, gap = 5, head_height = 58;
/// Where a finite reading is drawn as a closed contact, as a resistive part, as an open contact. Drawing
/// only: the verdict comes from the profile's limits.
constexpr double drawn_closed_below_ohm = 50, drawn_open_from_ohm = 1e6;

std::string describe(const View& view) {
  std::string text =
      fmt::format("{} terminal pairs by {} knob positions.", view.pairs().size(), view.positions().size());
  for (const Mark mark : {Mark::fail, Mark::undecided, Mark::not_sound, Mark::not_measured}) {
    std::vector<std::string> where;
    for (const Pair& pair : view.pairs())
      for (const std::string& position : view.positions())
        if (view.cell(position, pair).mark == mark) where.push_back(pair.text() + " at " + view.label(position));
    if (!where.empty()) text += fmt::format(" {}: {}.", word_for(mark), joined_with_and(where));
  }
  return text;
}

/// A small dial whose pointer stands where the knob stands.
void knob(Drawing& drawing, double x, double y, double angle_deg) {
  const double angle = (angle_deg - 90) * std::numbers::pi / 180;
  drawing.circle(x, y, 10, svg::stroke(Paint::muted, 1.4));
  drawing.line(x, y, x + 9 * std::cos(angle), y + 9 * std::sin(angle), Paint::ink, 2.6, "stroke-linecap=\"round\"");
}

void symbol(Drawing& drawing, const Cell& cell, double x, double y) {
  if (cell.indication == nullptr) return;
  const Paint paint = cell.mark == Mark::fail ? Paint::fail : Paint::ink;
  const Indication& shown = *cell.indication;
  const bool finite = shown.state == ReadingState::finite;
  const double value = cell.finding != nullptr ? cell.finding->corrected.value_or(shown.value) : shown.value;
  if (shown.state == ReadingState::over_range || (finite && value >= drawn_open_from_ohm))
    svg::open_symbol(drawing, x, y, paint);
  else if (finite && value < drawn_closed_below_ohm)
    svg::closed_symbol(drawing, x, y, paint);
  else if (finite)
    svg::element_symbol(drawing, x, y, paint);
}

std::string first_line(const Cell& cell) {
  if (cell.mark == Mark::none) return "nothing yet";
  if (cell.indication == nullptr) return word_for(cell.mark);
  const Indication& shown = *cell.indication;
  const bool finite = shown.state == ReadingState::finite;
  if (shown.state == ReadingState::over_range) return "open";
  if (!finite) return "no value";
  if (cell.finding == nullptr) return svg::with_ohm_sign(shown_text(shown));
  return svg::with_ohm_sign(
      value_text(cell.finding->corrected.value_or(shown.value), cell.finding->U, shown.quantity, shown.resolution));
}

std::string second_line(const Cell& cell) {
  if (cell.mark == Mark::fail && cell.expected != nullptr) {
    switch (cell.expected->state) {
      case PairState::open: return "FAIL: must be open";
      case PairState::closed: return "FAIL: must be closed";
      default: return "FAIL: out of band";
    }
  }
  if (cell.mark == Mark::not_sound) return "closed, not sound";
  if (cell.finding != nullptr && cell.finding->witness == Witness::missing && cell.mark == Mark::undecided)
    return "no witness";
  if (cell.mark == Mark::unjudged) return "not judged";
  if (cell.finding == nullptr) return "";
  const Finding& f = *cell.finding;
  std::string text;
  if (f.U)
    text = fmt::format("\xC2\xB1 {}", svg::with_ohm_sign(uncertainty_text(f.corrected.value_or(f.indication.value),
                                                                          *f.U, f.indication.quantity)));
  else if (f.indication.beyond)
    text = fmt::format("> {}", svg::with_ohm_sign(human_value(*f.indication.beyond, f.indication.quantity)));
  if (cell.mark == Mark::undecided) text += text.empty() ? "undecided" : ", undecided";
  return text;
}

void draw_cell(Drawing& drawing, const Cell& cell, double x, double y, double w) {
  const double h = row_height - gap;
  const double middle = y + h / 2;
  switch (cell.mark) {
    case Mark::fail:
      drawing.rect(x + 1.5, y + 1.5, w - 3, h - 3, svg::fill(Paint::fail_cell), 5);
      drawing.rect(x + 1.5, y + 1.5, w - 3, h - 3, svg::stroke(Paint::fail, 3), 5);
      break;
    case Mark::undecided:
      drawing.rect(x + 1, y + 1, w - 2, h - 2, drawing.hatch(), 5);
      drawing.rect(x + 1, y + 1, w - 2, h - 2, svg::stroke(Paint::undecided, 1.6) + " stroke-dasharray=\"6 4\"", 5);
      break;
    case Mark::not_sound:
      drawing.rect(x, y, w, h, svg::fill(Paint::cell), 5);
      drawing.rect(x + 1, y + 1, w - 2, h - 2, svg::stroke(Paint::not_sound, 1.6), 5);
      break;
    case Mark::not_measured:
    case Mark::left_out:
    case Mark::not_checked:
    case Mark::none:
      drawing.rect(x + 0.5, y + 0.5, w - 1, h - 1, svg::stroke(Paint::frame, 1) + " stroke-dasharray=\"2 4\"", 5);
      break;
    case Mark::pass:
    case Mark::unjudged: drawing.rect(x, y, w, h, svg::fill(Paint::cell), 5); break;
  }
  if (cell.indication == nullptr) {
    drawing.text(x + w / 2, middle + 4, first_line(cell), {12, "middle", false, Paint::muted});
    return;
  }
  symbol(drawing, cell, x + 28, middle + 1);
  const bool failed = cell.mark == Mark::fail;
  const std::string below = second_line(cell);
  drawing.text(x + 56, below.empty() ? middle + 5 : middle - 2, first_line(cell),
               {14, "start", true, failed ? Paint::fail : Paint::ink});
  if (!below.empty())
    drawing.text(x + 56, middle + 13, below, {10.5, "start", failed, failed ? Paint::fail : Paint::muted});
  const double mark_x = x + w - 17;
  if (cell.mark == Mark::pass) svg::pass_mark(drawing, mark_x, middle);
  if (cell.mark == Mark::fail) svg::fail_mark(drawing, mark_x, middle);
  if (cell.mark == Mark::undecided) svg::undecided_mark(drawing, mark_x, middle);
  if (cell.mark == Mark::not_sound) svg::not_sound_mark(drawing, mark_x, middle);
}

/// Only what the picture uses.
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
  item("closed, not sound", [&](double at) { svg::not_sound_mark(drawing, at, y); });
  x += 12;
  const auto drawn = [&](const char* words, auto&& symbol_of) {
    symbol_of(drawing, x + 18, y, Paint::ink);
    drawing.text(x + 42, y + 4, words, {11.5, "start", false, Paint::muted});
    x += 42 + 6.1 * static_cast<double>(std::string_view(words).size()) + 18;
  };
  drawn("reads closed", svg::closed_symbol);
  drawn("reads open", svg::open_symbol);
  drawn("resistance", svg::element_symbol);
  return y + 16;
}

}  // namespace

std::vector<Pair> pairs_for_picture(const View& view, std::size_t most_pairs, std::size_t most_readings) {
  struct Candidate {
    std::size_t place;
    std::size_t readings = 0;
    int rank = 2;  ///< 0: fails, 1: not decided
  };
  std::vector<Candidate> all;
  for (const Pair& pair : view.pairs()) {
    Candidate one{all.size()};
    for (const std::string& position : view.positions()) {
      const Mark mark = view.cell(position, pair).mark;
      if (mark == Mark::none) continue;
      ++one.readings;
      if (mark == Mark::fail) one.rank = 0;
      if (mark != Mark::pass) one.rank = std::min(one.rank, 1);
    }
    all.push_back(one);
  }
  std::stable_sort(all.begin(), all.end(), [](const Candidate& a, const Candidate& b) { return a.rank < b.rank; });
  std::vector<std::size_t> places;
  std::size_t readings = 0;
  for (const Candidate& one : all) {
    if (places.size() >= most_pairs || readings + one.readings > most_readings) break;
    readings += one.readings;
    places.push_back(one.place);
  }
  std::sort(places.begin(), places.end());
  std::vector<Pair> chosen;
  for (const std::size_t place : places) chosen.push_back(view.pairs()[place]);
  return chosen;
}

std::string matrix_picture(const View& view, const std::vector<Pair>& pairs) {
  const auto columns = static_cast<double>(std::max<std::size_t>(view.positions().size(), 1));
  const double column = std::max(188.0, (1000 - label_width) / columns);
  Drawing drawing("matrix", label_width + column * columns,
                  "What was read between each two terminals at each knob position", describe(view));
  double x = label_width;
  for (const std::string& position : view.positions()) {
    const double middle = x + (column - gap) / 2;
    if (const auto angle = view.angle_deg(position)) knob(drawing, middle, 18, *angle);
    drawing.text(middle, 46, view.label(position), {14, "middle", true});
    x += column;
  }
  double y = head_height;
  bool metal_begun = false;
  for (const Pair& pair : pairs) {
    if (view.touches_exposed_metal(pair) && !metal_begun) {
      metal_begun = true;
      if (y > head_height) {
        drawing.text(0, y + 14, "To exposed metal", {11.5, "start", true, Paint::muted});
        drawing.line(label_width, y + 10, label_width + column * columns - gap, y + 10, Paint::frame);
        y += 24;
      }
    }
    const std::string part = view.part_between(pair);
    const double middle = y + (row_height - gap) / 2;
    drawing.text(0, part.empty() ? middle + 5 : middle - 1, pair.first() + "\xE2\x80\x93" + pair.second(),
                 {14, "start", true});
    if (!part.empty()) drawing.text(0, middle + 13, part, {11, "start", false, Paint::muted});
    x = label_width;
    for (const std::string& position : view.positions()) {
      draw_cell(drawing, view.cell(position, pair), x, y, column - gap);
      x += column;
    }
    y += row_height;
  }
  return drawing.finish(draw_legend(drawing, y + 16) + 4);
}

}  // namespace switchwright
