#include "report/svg.hpp"

#include <fmt/format.h>

#include <regex>

#include "core/escape.hpp"

namespace switchwright::svg {

namespace {

struct Colour {
  const char* name;
  const char* light;
};

Colour colour_of(Paint paint) {
  switch (paint) {
    case Paint::ink:
      return {"ink", "#18212b"};
    case Paint::muted:
      return {"muted", "#566270"};
    case Paint::paper:
      return {"paper", "#ffffff"};
    case Paint::cell:
      return {"cell", "#f4f7f9"};
    case Paint::band:
      return {"band", "#cfdbe6"};
    case Paint::grid:
      return {"grid", "#dde4ea"};
    case Paint::frame:
      return {"frame", "#b9c4ce"};
    case Paint::pass:
      return {"pass", "#1b6e3c"};
    case Paint::fail:
      return {"fail", "#a51d12"};
    case Paint::fail_cell:
      return {"failcell", "#fbe3df"};
    case Paint::undecided:
      return {"undecided", "#7d5200"};
    case Paint::not_sound:
      return {"notsound", "#7d5200"};
  }
  return {"ink", "#18212b"};
}

}  // namespace

std::string fill(Paint paint) {
  const Colour colour = colour_of(paint);
  return fmt::format("class=\"f-{}\" fill=\"{}\"", colour.name, colour.light);
}

std::string stroke(Paint paint, double width) {
  const Colour colour = colour_of(paint);
  return fmt::format("class=\"s-{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:g}\"", colour.name,
                     colour.light, width);
}

Drawing::Drawing(std::string name, double width, std::string title, std::string description)
    : name_(std::move(name)), width_(width), title_(std::move(title)), description_(std::move(description)) {}

void Drawing::text(double x, double y, std::string_view words, TextStyle style) {
  body_ += fmt::format("<text x=\"{:g}\" y=\"{:g}\" font-size=\"{:g}\" text-anchor=\"{}\"{} {}>{}</text>\n",
                       x, y, style.size, style.anchor, style.bold ? " font-weight=\"700\"" : "",
                       fill(style.paint), html_safe(words));
}

void Drawing::line(double x1, double y1, double x2, double y2, Paint paint, double width, const char* more) {
  body_ += fmt::format("<line x1=\"{:g}\" y1=\"{:g}\" x2=\"{:g}\" y2=\"{:g}\" {} {}/>\n", x1, y1, x2, y2,
                       stroke(paint, width), more);
}

void Drawing::rect(double x, double y, double w, double h, const std::string& paint, double radius) {
  body_ += fmt::format("<rect x=\"{:g}\" y=\"{:g}\" width=\"{:g}\" height=\"{:g}\" rx=\"{:g}\" {}/>\n", x, y,
                       w, h, radius, paint);
}

void Drawing::circle(double x, double y, double r, const std::string& paint) {
  body_ += fmt::format("<circle cx=\"{:g}\" cy=\"{:g}\" r=\"{:g}\" {}/>\n", x, y, r, paint);
}

void Drawing::path(const std::string& d, const std::string& paint) {
  body_ += fmt::format("<path d=\"{}\" {}/>\n", d, paint);
}

std::string Drawing::hatch() const {
  return "fill=\"url(#" + name_ + "-hatch)\"";
}

std::string Drawing::finish(double height, double top) const {
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 {6:g} {0:g} {1:g}\" width=\"{0:g}\" "
      "height=\"{1:g}\" role=\"img\" "
      "aria-labelledby=\"{2}-title {2}-desc\" font-family=\"system-ui, 'Segoe UI', 'DejaVu Sans', Helvetica, "
      "Arial, "
      "sans-serif\">\n<title id=\"{2}-title\">{3}</title>\n<desc id=\"{2}-desc\">{4}</desc>\n<defs><pattern "
      "id=\"{2}-hatch\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
      "patternTransform=\"rotate(45)\"><rect "
      "width=\"7\" height=\"7\" class=\"f-paper\" fill=\"#ffffff\"/><line x1=\"0\" y1=\"0\" x2=\"0\" "
      "y2=\"7\" "
      "class=\"s-hatch\" stroke=\"#e9d9b4\" stroke-width=\"4\"/></pattern></defs>\n{5}</svg>\n",
      width_, height - top, name_, html_safe(title_), html_safe(description_), body_, top);
}

void pass_mark(Drawing& drawing, double x, double y) {
  drawing.path(fmt::format("M{:g} {:g} l4 4.5 l8 -9.5", x - 6, y + 0.5),
               stroke(Paint::pass, 2.4) + " stroke-linecap=\"round\" stroke-linejoin=\"round\"");
}

void fail_mark(Drawing& drawing, double x, double y) {
  drawing.path(fmt::format("M{:g} {:g} l6 0 l5 5 l0 6 l-5 5 l-6 0 l-5 -5 l0 -6 z", x - 3, y - 8),
               fill(Paint::fail));
  drawing.path(fmt::format("M{0:g} {1:g} l7 7 m0 -7 l-7 7", x - 3.5, y - 3.5),
               stroke(Paint::paper, 2.2) + " stroke-linecap=\"round\"");
}

void undecided_mark(Drawing& drawing, double x, double y) {
  drawing.circle(x, y, 8, stroke(Paint::undecided, 1.8));
  drawing.text(x, y + 4.4, "?", {12.5, "middle", true, Paint::undecided});
}

void not_sound_mark(Drawing& drawing, double x, double y) {
  drawing.path(fmt::format("M{:g} {:g} l9 15 l-18 0 z", x, y - 8.5),
               stroke(Paint::not_sound, 1.8) + " stroke-linejoin=\"round\"");
  drawing.text(x, y + 5, "!", {11, "middle", true, Paint::not_sound});
}

namespace {

void ends(Drawing& drawing, double x, double y, Paint paint) {
  drawing.circle(x - 17, y, 2.6, fill(paint));
  drawing.circle(x + 17, y, 2.6, fill(paint));
}

}  // namespace

void closed_symbol(Drawing& drawing, double x, double y, Paint paint) {
  ends(drawing, x, y, paint);
  drawing.line(x - 17, y, x + 17, y, paint, 3);
}

void open_symbol(Drawing& drawing, double x, double y, Paint paint) {
  ends(drawing, x, y, paint);
  drawing.line(x - 17, y, x - 9, y, paint, 1.8);
  drawing.line(x + 9, y, x + 17, y, paint, 1.8);
  drawing.line(x - 9, y, x + 6, y - 9, paint, 1.8, "stroke-linecap=\"round\"");
}

void element_symbol(Drawing& drawing, double x, double y, Paint paint) {
  ends(drawing, x, y, paint);
  drawing.line(x - 17, y, x - 10, y, paint, 1.8);
  drawing.line(x + 10, y, x + 17, y, paint, 1.8);
  drawing.rect(x - 10, y - 4.5, 20, 9, stroke(paint, 1.8), 1);
}

std::string with_ohm_sign(std::string text) {
  for (auto at = text.find("ohm"); at != std::string::npos; at = text.find("ohm", at))
    text.replace(at, 3, "\xCE\xA9");
  for (auto at = text.find("+/-"); at != std::string::npos; at = text.find("+/-", at))
    text.replace(at, 3, "\xC2\xB1");
  return text;
}

std::string with_ohm_signs(const std::string& sentence) {
  static const std::regex unit("([0-9]) ([kMGm]?)ohm\\b");
  return std::regex_replace(sentence, unit, "$1 $2\xCE\xA9");
}

}  // namespace switchwright::svg
