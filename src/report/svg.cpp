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
    case Paint::ink: return {"ink", "#18212b"};
    case Paint::muted: return {"muted", "#566270"};
    case Paint::paper: return {"paper", "#ffffff"};
    case Paint::cell: return {"cell", "#f4f7f9"};
    case Paint::band: return {"band", "#cfdbe6"};
    case Paint::grid: return {"grid", "#dde4ea"};
    case Paint::frame: return {"frame", "#b9c4ce"};
    case Paint::pass: return {"pass", "#1b6e3c"};
    case Paint::fail: return {"fail", "#a51d12"};
    case Paint::fail_cell: return {"failcell", "#fbe3df"};
    case Paint::undecided: return {"undecided", "#7d5200"};
    case Paint::not_sound: return {"notsound", "#7d5200"};
    case Paint::trace: return {"trace", "#0b5cad"};
    case Paint::envelope: return {"envelope", "#6d9ece"};
    case Paint::on: return {"on", "#e2ebf5"};
    case Paint::level: return {"level", "#1a7f37"};
    case Paint::reference: return {"ref", "#b42318"};
    case Paint::mark: return {"mark", "#8250df"};
    case Paint::gap: return {"gap", "#ead9b8"};
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
  return fmt::format("class=\"s-{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:g}\"", colour.name, colour.light,
                     width);
}

const char* const dark_repaint =
    ".f-ink{fill:#e8edf2}.f-muted{fill:#a7b3bf}.f-paper{fill:#12171d}.f-cell{fill:#1d252d}.f-band{fill:#36485a}"
    ".f-pass{fill:#7ddc9c}.f-fail{fill:#ff9a8d}.f-failcell{fill:#431814}.f-undecided,.f-notsound{fill:#f2c66d}"
    ".f-trace{fill:#6cb6ff}.f-envelope{fill:#4577a8}.f-on{fill:#1c2c3d}.f-level{fill:#57c26b}.f-ref{fill:#ff8f85}"
    ".f-mark{fill:#c9a6ff}.f-gap{fill:#4a3a12}"
    ".s-ink{stroke:#e8edf2}.s-muted{stroke:#a7b3bf}.s-paper{stroke:#12171d}.s-grid{stroke:#2a333c}"
    ".s-frame{stroke:#4b5864}.s-pass{stroke:#7ddc9c}.s-fail{stroke:#ff9a8d}.s-undecided,.s-notsound{stroke:#f2c66d}"
    ".s-hatch{stroke:#3c3117}.s-trace{stroke:#6cb6ff}.s-level{stroke:#57c26b}.s-ref{stroke:#ff8f85}"
    ".s-mark{stroke:#c9a6ff}";

Drawing::Drawing(std::string name, double width, std::string title, std::string description)
    : width_(width), titles_{std::move(name), std::move(title), std::move(description)} {}

void Drawing::text(double x, double y, std::string_view words, TextStyle style) {
  body_ += fmt::format("<text x=\"{:g}\" y=\"{:g}\" font-size=\"{:g}\" text-anchor=\"{}\"{} {}>{}</text>\n", x, y,
                       style.size, style.anchor, style.bold ? " font-weight=\"700\"" : "", fill(style.paint),
                       html_safe(words));
}

void Drawing::line(double x1, double y1, double x2, double y2, Paint paint, double width, const char* more) {
  body_ += fmt::format("<line x1=\"{:g}\" y1=\"{:g}\" x2=\"{:g}\" y2=\"{:g}\" {} {}/>\n", x1, y1, x2, y2,
                       stroke(paint, width), more);
}

void Drawing::rect(double x, double y, double w, double h, const std::string& paint, double radius) {
  body_ += fmt::format("<rect x=\"{:g}\" y=\"{:g}\" width=\"{:g}\" height=\"{:g}\" rx=\"{:g}\" {}/>\n", x, y, w, h,
                       radius, paint);
}

void Drawing::circle(double x, double y, double r, const std::string& paint) {
  body_ += fmt::format("<circle cx=\"{:g}\" cy=\"{:g}\" r=\"{:g}\" {}/>\n", x, y, r, paint);
}

void Drawing::path(const std::string& d, const std::string& paint) {
  body_ += fmt::format("<path d=\"{}\" {}/>\n", d, paint);
}

std::string Drawing::hatch() const { return "fill=\"url(#" + titles_.name + "-hatch)\""; }

std::string Drawing::finish(double height, const Titles& titles) const {
  const std::string pattern =
      body_.find("-hatch)") == std::string::npos
          ? ""
          : fmt::format(
                "<defs><pattern id=\"{}-hatch\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
                "patternTransform=\"rotate(45)\"><rect width=\"7\" height=\"7\" class=\"f-paper\" fill=\"#ffffff\"/>"
                "<line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" class=\"s-hatch\" stroke=\"#e9d9b4\" stroke-width=\"4\"/>"
                "</pattern></defs>\n",
                titles.name);
  const bool described = !titles.description.empty();
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:g} {1:g}\" width=\"{0:g}\" height=\"{1:g}\" role=\"img\" "
      "aria-labelledby=\"{2}-title{3}\" font-family=\"system-ui, 'Segoe UI', 'DejaVu Sans', Helvetica, Arial, sans-serif\">\n"
      "<title id=\"{2}-title\">{4}</title>\n{5}{6}{7}</svg>\n",
      width_, height, titles.name, described ? " " + titles.name + "-desc" : "", html_safe(titles.title),
      described
          ? fmt::format("<desc id=\"{}-desc\">{}</desc>\n", titles.name, html_safe(with_signs(titles.description)))
          : "",
      pattern, body_);
}

std::string Drawing::finish_from(double top, double height) const {
  std::string picture = finish(height);
  const std::string whole = fmt::format("viewBox=\"0 0 {0:g} {1:g}\" width=\"{0:g}\" height=\"{1:g}\"", width_, height);
  return picture.replace(
      picture.find(whole), whole.size(),
      fmt::format("viewBox=\"0 {2:g} {0:g} {1:g}\" width=\"{0:g}\" height=\"{1:g}\"", width_, height - top, top));
}

std::string Drawing::document(double height, const Titles& titles) const {
  std::string picture = finish(height, titles);
  const auto after_title = picture.find("</title>\n") + 9;
  return picture.insert(after_title, fmt::format("<style>@media(prefers-color-scheme:dark){{{}}}</style>\n"
                                                 "<rect width=\"{:g}\" height=\"{:g}\" {}/>\n",
                                                 dark_repaint, width_, height, fill(Paint::paper)));
}

void pass_mark(Drawing& drawing, double x, double y) {
  drawing.path(fmt::format("M{:g} {:g} l4 4.5 l8 -9.5", x - 6, y + 0.5),
               stroke(Paint::pass, 2.4) + " stroke-linecap=\"round\" stroke-linejoin=\"round\"");
}

void fail_mark(Drawing& drawing, double x, double y) {
  drawing.path(fmt::format("M{:g} {:g} l6 0 l5 5 l0 6 l-5 5 l-6 0 l-5 -5 l0 -6 z", x - 3, y - 8), fill(Paint::fail));
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
  for (auto at = text.find("ohm"); at != std::string::npos; at = text.find("ohm", at)) text.replace(at, 3, "\xCE\xA9");
  for (auto at = text.find("+/-"); at != std::string::npos; at = text.find("+/-", at)) text.replace(at, 3, "\xC2\xB1");
  return text;
}

std::string with_signs(std::string sentence) {
  // A unit stands after a number or the bracket that closes one; a terminal or a part may be called anything.
  static const std::regex ohm("([0-9)]) ([kMGm]?)ohm\\b"), celsius("([0-9)]) degC\\b"), either(" \\+/- ");
  sentence = std::regex_replace(sentence, ohm, "$1 $2\xCE\xA9");
  sentence = std::regex_replace(sentence, celsius,
                                "$1 \xC2\xB0"
                                "C");
  return std::regex_replace(sentence, either, " \xC2\xB1 ");
}

}  // namespace switchwright::svg
