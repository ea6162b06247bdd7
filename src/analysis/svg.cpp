#include "analysis/svg.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace switchwright::svg {

namespace {

constexpr const char* style_sheet = R"(
.swp{--ground:#ffffff;--ink:#1b1f24;--soft:#57606a;--grid:#d8dee4;--trace:#0b5cad;--on:#0b5cad;--level:#1a7f37;--ref:#b42318;--mark:#8250df;--gap:#9a6700}
@media(prefers-color-scheme:dark){.swp{--ground:#14181d;--ink:#e6edf3;--soft:#9da7b1;--grid:#30363d;--trace:#6cb6ff;--on:#6cb6ff;--level:#57c26b;--ref:#ff8f85;--mark:#c9a6ff;--gap:#e3b341}}
.swp .ground{fill:var(--ground)}
.swp text{font:13px system-ui,'DejaVu Sans',sans-serif;fill:var(--ink)}
.swp .title{font-size:16px;font-weight:600}
.swp .soft{fill:var(--soft)}
.swp .end{text-anchor:end}.swp .mid{text-anchor:middle}
.swp .small{font-size:11px}
.swp .level-ink{fill:var(--level)}.swp .ref-ink{fill:var(--ref)}.swp .mark-ink{fill:var(--mark)}
.swp .grid{stroke:var(--grid);stroke-width:1}
.swp .axis{stroke:var(--soft);stroke-width:1;fill:none}
.swp .trace{stroke:var(--trace);stroke-width:1.3;fill:none;stroke-linejoin:round}
.swp .envelope{stroke:none;fill:var(--trace);fill-opacity:.6}
.swp .band{stroke:none;fill:var(--trace);fill-opacity:.28}
.swp .on{fill:var(--on);fill-opacity:.12}
.swp .gap{fill:var(--gap);fill-opacity:.25}
.swp .level{stroke:var(--level);stroke-width:1.2;stroke-dasharray:7 3}
.swp .ref{stroke:var(--ref);stroke-width:1.2;stroke-dasharray:3 3}
.swp .mark{stroke:var(--mark);stroke-width:1.3}
.swp .edge{fill:var(--ref)}
.swp .bar{fill:var(--trace)}
)";

}  // namespace

std::string escaped(std::string_view text) {
  std::string safe;
  for (const char c : text) {
    switch (c) {
      case '&':
        safe += "&amp;";
        break;
      case '<':
        safe += "&lt;";
        break;
      case '>':
        safe += "&gt;";
        break;
      case '"':
        safe += "&quot;";
        break;
      default:
        if (static_cast<unsigned char>(c) >= 0x20) safe += c;
    }
  }
  return safe;
}

std::vector<double> ticks(double from, double to, int wanted) {
  const double rough = (to - from) / std::max(wanted, 1);
  if (!(rough > 0.0) || !std::isfinite(rough)) return {};
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  const double digit = rough / power;
  const double step = power * (digit < 1.5 ? 1.0 : digit < 3.5 ? 2.0 : digit < 7.5 ? 5.0 : 10.0);
  std::vector<double> values;
  for (double i = std::ceil(from / step - 1e-9); i * step <= to + 1e-9 * step && values.size() < 100;
       i += 1.0)
    values.push_back(i * step);
  return values;
}

std::string tick_label(double value, double step) {
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 9);
  const std::string text = fmt::format("{:.{}f}", value, decimals);
  if (std::abs(value) >= 1e7) return fmt::format("{:g}", value);
  return std::abs(value) < 1e-6 * step && text.front() == '-' ? text.substr(1) : text;
}

void Canvas::line(double x1, double y1, double x2, double y2, std::string_view style) {
  fmt::format_to(std::back_inserter(body_),
                 "<line x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\" class=\"{}\"/>\n", x1, y1, x2,
                 y2, style);
}

void Canvas::rect(double x, double y, double w, double h, std::string_view style) {
  fmt::format_to(std::back_inserter(body_),
                 "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" class=\"{}\"/>\n", x, y,
                 std::max(w, 0.0), std::max(h, 0.0), style);
}

void Canvas::dot(double x, double y, double r, std::string_view style) {
  fmt::format_to(std::back_inserter(body_),
                 "<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{:.1f}\" class=\"{}\"/>\n", x, y, r, style);
}

void Canvas::path(const std::string& commands, std::string_view style) {
  fmt::format_to(std::back_inserter(body_), "<path d=\"{}\" class=\"{}\"/>\n", commands, style);
}

void Canvas::text(double x, double y, std::string_view text, std::string_view style) {
  fmt::format_to(std::back_inserter(body_), "<text x=\"{:.1f}\" y=\"{:.1f}\" class=\"{}\">{}</text>\n", x, y,
                 style, escaped(text));
}

void Canvas::frame(const Scale& x, const Scale& y, std::string_view x_title, std::string_view y_title,
                   bool y_grid_labels, bool whole_x) {
  const double left = x.from_px, right = x.to_px, bottom = y.from_px, top = y.to_px;
  auto x_ticks = ticks(x.from, x.to, static_cast<int>((right - left) / 90.0));
  if (whole_x)
    std::erase_if(x_ticks, [](double value) { return std::abs(value - std::round(value)) > 1e-9; });
  const auto y_ticks = ticks(y.from, y.to, std::max(2, static_cast<int>((bottom - top) / 40.0)));
  const auto step = [](const std::vector<double>& t) { return t.size() > 1 ? t[1] - t[0] : 1.0; };
  if (y_grid_labels)
    for (const double value : y_ticks) {
      line(left, y.px(value), right, y.px(value), "grid");
      text(left - 6, y.px(value) + 4, tick_label(value, step(y_ticks)), "soft end");
    }
  for (const double value : x_ticks) {
    line(x.px(value), bottom, x.px(value), bottom + 5, "axis");
    text(x.px(value), bottom + 19, tick_label(value, step(x_ticks)), "soft mid");
  }
  line(left, bottom, right, bottom, "axis");
  line(left, top, left, bottom, "axis");
  text(right, bottom + 36, x_title, "end");
  text(left, top - 8, y_title, "");
}

std::string document(double height, std::string_view title, const std::string& body) {
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" width=\"{0:.0f}\" "
      "height=\"{1:.0f}\" "
      "class=\"swp\" role=\"img\" aria-label=\"{2}\">\n<title>{2}</title>\n<style>{3}</style>\n"
      "<rect width=\"{0:.0f}\" height=\"{1:.0f}\" class=\"ground\"/>\n{4}</svg>\n",
      Canvas::width, height, escaped(title), style_sheet, body);
}

}  // namespace switchwright::svg
