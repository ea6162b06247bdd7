#include "switchwright/report/schematic.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/picture.hpp"
#include "report/schematic_layout.hpp"
#include "report/svg.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

using svg::Drawing;
using svg::Paint;

constexpr double margin = 40;
constexpr double column_width = 150;
constexpr double terminal_y = 116;
constexpr double first_row_y = 186;
constexpr double row_height = 84;
constexpr double least_width = 720;

bool named(const Element& element, const char* word) { return element.id.find(word) != std::string::npos; }

class Schematic {
 public:
  Schematic(const Profile& profile, const Position& position, std::vector<Pair> deviating = {},
            const std::string& name = "schematic")
      : profile_(profile),
        position_(position),
        deviating_(std::move(deviating)),
        layout_(schematic::layout_of(profile)),
        width_(std::max({least_width, 2 * margin + column_width * static_cast<double>(layout_.columns.size()),
                         2 * margin + 10.5 * static_cast<double>(profile.title.size())})),
        drawing_(name, width_, profile.title + ": " + place(), description()) {}

  /// The drawing alone, for a page that says the rest itself.
  std::string bare() {
    const double frame_bottom = row_y(layout_.rows) - 24;
    frame(frame_bottom);
    for (std::size_t column = 0; column < layout_.columns.size(); ++column) wire(column);
    for (const schematic::Part& part : layout_.parts) draw(part);
    return drawing_.finish_from(terminal_y - 48, frame_bottom + 30);
  }

  std::string whole() {
    const double frame_bottom = row_y(layout_.rows) - 24;
    drawing_.text(margin, 36, profile_.title, {17, "start", true});
    drawing_.text(margin, 60, "State shown: " + place() + "; cold and not powered.",
                  {13, "start", false, Paint::muted});
    frame(frame_bottom);
    for (std::size_t column = 0; column < layout_.columns.size(); ++column) wire(column);
    for (const schematic::Part& part : layout_.parts) draw(part);
    double y = frame_bottom + 52;
    y = chart(y);
    drawing_.text(margin, y + 12, full_stop("Values: " + profile_.values), {11.5, "start", false, Paint::muted});
    return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + drawing_.finish(y + 34);
  }

  /// The network alone, with what deviates named; for a page that says the rest.
  std::string figure() {
    const double frame_bottom = row_y(layout_.rows) - 24;
    frame(frame_bottom);
    for (std::size_t column = 0; column < layout_.columns.size(); ++column) wire(column);
    for (const schematic::Part& part : layout_.parts) draw(part);
    std::vector<std::string> pairs;
    constexpr std::size_t on_one_line = 6;
    for (const Pair& pair : deviating_) {
      if (pairs.size() == on_one_line && deviating_.size() > on_one_line + 1) {
        pairs.push_back(fmt::format("{} more", deviating_.size() - on_one_line));
        break;
      }
      pairs.push_back(pair.first() + "\xE2\x80\x93" + pair.second());
    }
    if (!pairs.empty())
      drawing_.text(margin, frame_bottom + 20, "\xE2\x9C\x97 deviates: " + joined_with_and(pairs),
                    {14, "start", true, Paint::fail});
    constexpr double nothing_above = 76;
    return drawing_.finish_from(nothing_above, frame_bottom + 32);
  }

 private:
  bool deviates(const std::string& terminal) const {
    return std::any_of(deviating_.begin(), deviating_.end(),
                       [&](const Pair& pair) { return pair.first() == terminal || pair.second() == terminal; });
  }

  /// A label says it in words already ("door open"); a bare id needs to be told what it is a position of.
  std::string place() const {
    return position_.label.empty() || position_.label == position_.id ? profile_.knob + " at " + position_.id
                                                                      : position_.label;
  }

  std::string state_of(const Contact& contact) const {
    if (contact.cycles(position_.id)) return "closed, cycles";
    return contact.conducts_at(position_.id) ? "closed" : "open";
  }

  std::string description() const {
    std::vector<std::string> parts;
    for (const Contact& c : profile_.contacts)
      parts.push_back(
          fmt::format("contact {} from {} to {}: {}", c.id, c.between.first(), c.between.second(), state_of(c)));
    for (const Element& e : profile_.elements)
      parts.push_back(
          fmt::format("{} from {} to {}: {}", e.id, e.between.first(), e.between.second(), human_ohm(e.nominal_ohm)));
    return fmt::format("{}.", fmt::join(parts, "; "));
  }

  double column_x(std::size_t column) const {
    const double used = column_width * static_cast<double>(layout_.columns.size());
    return (width_ - used) / 2 + column_width * (static_cast<double>(column) + 0.5);
  }
  static double row_y(std::size_t row) { return first_row_y + row_height * static_cast<double>(row); }

  /// The housing; where it is metal that a hand can touch, its line is dashed and it has its name.
  void frame(double bottom) {
    const bool metal = !profile_.exposed_metal.empty();
    drawing_.rect(margin / 2, terminal_y, width_ - margin, bottom - terminal_y,
                  svg::stroke(metal ? Paint::muted : Paint::frame, 1.4) +
                      (metal ? " stroke-dasharray=\"9 5\" data-metal=\"\"" : ""),
                  8);
    if (metal)
      drawing_.text(width_ - margin, bottom + 18,
                    joined_with_and(profile_.exposed_metal) + ": exposed metal, joined to nothing",
                    {11.5, "end", false, Paint::muted});
  }

  void wire(std::size_t column) {
    const double x = column_x(column);
    const std::string& node = layout_.columns[column];
    const bool internal =
        std::find(profile_.internal.begin(), profile_.internal.end(), node) != profile_.internal.end();
    const std::size_t last = layout_.last_row[column];
    std::size_t first = last;
    std::size_t ends = 0;
    for (const schematic::Part& part : layout_.parts)
      if (part.left == column || part.right == column) {
        first = std::min(first, part.row);
        ++ends;
      }
    if (internal) {
      if (last != first) drawing_.line(x, row_y(first), x, row_y(last), Paint::ink, 2);
      drawing_.circle(x, row_y(first), 3.4, svg::fill(Paint::ink));
      drawing_.text(x, row_y(first) - 14, node, {11, "middle", false, Paint::muted});
      return;
    }
    if (last != schematic::Layout::npos) drawing_.line(x, terminal_y, x, row_y(last), Paint::ink, 2);
    const bool wrong = deviates(node);
    drawing_.circle(x, terminal_y, 6, svg::fill(Paint::paper));
    drawing_.circle(x, terminal_y, 6,
                    svg::stroke(wrong ? Paint::fail : Paint::ink, 2) + " data-terminal=\"" + html_safe(node) + "\"");
    if (wrong) drawing_.circle(x, terminal_y, 10.5, svg::stroke(Paint::fail, 2));
    drawing_.text(x, terminal_y - 16, node, {16, "middle", true, wrong ? Paint::fail : Paint::ink});
    // A dot where more than the wire and one part meet.
    if (last == schematic::Layout::npos) return;
    for (std::size_t row = first; row <= last; ++row) {
      const auto here = std::count_if(layout_.parts.begin(), layout_.parts.end(), [&](const schematic::Part& part) {
        return part.row == row && (part.left == column || part.right == column);
      });
      if (here > 1 || (here == 1 && row < last)) drawing_.circle(x, row_y(row), 3.4, svg::fill(Paint::ink));
    }
  }

  void draw(const schematic::Part& part) {
    const double y = row_y(part.row);
    // In a gap between two columns, where no wire passes.
    const double middle =
        (column_x((part.left + part.right - 1) / 2) + column_x((part.left + part.right - 1) / 2 + 1)) / 2;
    const double half = 26;
    lead(part, column_x(part.left), middle - half, y);
    lead(part, middle + half, column_x(part.right), y);
    part.contact ? contact(*part.contact, middle, y, half) : element(*part.element, middle, y, half);
  }

  /// A piece of wire that hops over the wires it is not joined to.
  void lead(const schematic::Part& part, double from, double to, double y) {
    constexpr double hop = 7;
    std::string d = fmt::format("M{:g} {:g}", from, y);
    for (std::size_t column = part.left + 1; column < part.right; ++column) {
      const double x = column_x(column);
      const std::size_t last = layout_.last_row[column];
      if (x <= from || x >= to || last == schematic::Layout::npos || last <= part.row) continue;
      d += fmt::format(" L{:g} {:g} a{:g} {:g} 0 0 1 {:g} 0", x - hop, y, hop, hop, 2 * hop);
    }
    drawing_.path(d + fmt::format(" L{:g} {:g}", to, y), svg::stroke(Paint::ink, 2));
  }

  void contact(const Contact& contact, double x, double y, double half) {
    const bool closed = contact.conducts_at(position_.id);
    const bool cycles = contact.cycles(position_.id);
    const std::string blade = svg::stroke(Paint::ink, 3.2) + " stroke-linecap=\"round\"";
    const double left = x - half + 4, right = x + half - 4;
    if (closed) drawing_.path(fmt::format("M{:g} {:g} L{:g} {:g}", left, y, right, y), blade);
    if (!closed || cycles)
      drawing_.path(fmt::format("M{:g} {:g} L{:g} {:g}", left, y, right - 4, y - 20),
                    cycles ? svg::stroke(Paint::muted, 2) + " stroke-dasharray=\"4 4\"" : blade);
    for (const double end : {left, right}) {
      drawing_.circle(end, y, 4, svg::fill(Paint::paper));
      drawing_.circle(end, y, 4, svg::stroke(Paint::ink, 1.8));
    }
    labels(contact.id, state_of(contact), x, y);
  }

  void element(const Element& element, double x, double y, double half) {
    const std::string paper = svg::fill(Paint::paper);
    if (named(element, "lamp")) {
      drawing_.line(x - half, y, x - 14, y, Paint::ink, 2);
      drawing_.line(x + 14, y, x + half, y, Paint::ink, 2);
      drawing_.circle(x, y, 14, svg::stroke(Paint::ink, 2));
      drawing_.path(fmt::format("M{:g} {:g} l19.8 19.8 m0 -19.8 l-19.8 19.8", x - 9.9, y - 9.9),
                    svg::stroke(Paint::ink, 2));
    } else if (named(element, "coil")) {
      drawing_.line(x - half, y, x - 12, y, Paint::ink, 2);
      drawing_.line(x + 12, y, x + half, y, Paint::ink, 2);
      drawing_.rect(x - 12, y - 15, 24, 30, svg::stroke(Paint::ink, 2));
    } else {
      drawing_.rect(x - half, y - 10, 2 * half, 20, svg::stroke(Paint::ink, 2));
    }
    labels(element.id, svg::with_ohm_sign(human_ohm(element.nominal_ohm)), x, y);
  }

  void labels(const std::string& name, const std::string& below, double x, double y) {
    drawing_.text(x, y - 26, name, {13, "middle", true});
    drawing_.text(x, y + 34, below, {12, "middle", false, Paint::muted});
  }

  /// Contacts by positions: filled closed, half filled cycles, empty open.
  double chart(double y) {
    double name_width = 90;
    for (const Contact& contact : profile_.contacts)
      name_width = std::max(name_width, 8.0 * static_cast<double>(contact.id.size()) + 20);
    const double step =
        std::clamp((width_ - 2 * margin - name_width) / static_cast<double>(profile_.positions.size()), 40.0, 110.0);
    const auto x_of = [&](std::size_t i) { return margin + name_width + step * (static_cast<double>(i) + 0.5); };
    for (std::size_t i = 0; i < profile_.positions.size(); ++i) {
      const Position& p = profile_.positions[i];
      const bool here = p.id == position_.id;
      if (here)
        drawing_.rect(x_of(i) - step / 2 + 2, y - 18, step - 4, 26 * static_cast<double>(profile_.contacts.size()) + 30,
                      svg::fill(Paint::cell), 6);
      drawing_.text(x_of(i), y, p.id, {12.5, "middle", here});
    }
    for (const Contact& contact : profile_.contacts) {
      y += 26;
      drawing_.text(margin, y + 4, contact.id, {13, "start", false});
      for (std::size_t i = 0; i < profile_.positions.size(); ++i) {
        const std::string& at = profile_.positions[i].id;
        drawing_.circle(x_of(i), y, 7, svg::stroke(Paint::ink, 1.6));
        if (contact.cycles(at))
          drawing_.path(fmt::format("M{:g} {:g} a7 7 0 0 1 0 14 z", x_of(i), y - 7), svg::fill(Paint::ink));
        else if (contact.conducts_at(at))
          drawing_.circle(x_of(i), y, 7, svg::fill(Paint::ink));
      }
    }
    y += 36;
    const bool cycling = std::any_of(profile_.contacts.begin(), profile_.contacts.end(),
                                     [](const Contact& c) { return !c.cycles_at.empty(); });
    drawing_.text(margin, y,
                  std::string("Filled: closed. Empty: open.") +
                      (cycling ? " Half filled, dashed blade: closed when cold, opens and closes under power." : ""),
                  {11.5, "start", false, Paint::muted});
    return y + 8;
  }

  const Profile& profile_;
  const Position& position_;
  std::vector<Pair> deviating_;
  schematic::Layout layout_;
  double width_;
  Drawing drawing_;
};

}  // namespace

std::string schematic_figure(const Profile& profile, const std::string& position, const std::vector<Pair>& deviating,
                             const std::string& name) {
  const Position* at = profile.position(position);
  return at == nullptr ? std::string{} : Schematic(profile, *at, deviating, name).figure();
}

namespace {

const Position& position_named(const Profile& profile, const std::string& position) {
  const Position* at = position.empty() ? &profile.positions.front() : profile.position(position);
  if (!at) {
    std::vector<std::string> ids;
    for (const Position& p : profile.positions) ids.push_back(p.id);
    throw Error(ErrorKind::usage, "the profile has no position \"" + terminal_safe(position) + "\"", profile.id,
                suggestion(position, ids));
  }
  return *at;
}

}  // namespace

std::string schematic_svg(const Profile& profile, const std::string& position) {
  return Schematic(profile, position_named(profile, position)).whole();
}

std::string schematic_figure(const Profile& profile, const std::string& position) {
  return Schematic(profile, position_named(profile, position)).bare();
}

}  // namespace switchwright
