#include "switchwright/analysis/oc_picture.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "analysis/svg.hpp"

namespace switchwright {

namespace {

using svg::Canvas;
using svg::Scale;

constexpr double left_px = 70.0, right_px = 880.0;

std::string line_through(const std::vector<OcPoint>& points, const Scale& x, const Scale& y, double OcPoint::*value,
                         double factor) {
  std::string d;
  for (const OcPoint& point : points)
    fmt::format_to(std::back_inserter(d), "{}{:.1f} {:.1f}", d.empty() ? "M" : "L", x.px(100.0 * point.p),
                   y.px(factor * point.*value));
  return d;
}

class Sheet {
 public:
  explicit Sheet(const OcPicture& picture) : p_(picture) {
    end_ = 0.0;
    for (const OcPoint& point : p_.process) end_ = std::max(end_, 100.0 * point.p);
    unit_ = p_.defects ? "defects per hundred units that come in" : "percent defective that comes in";
  }

  void acceptance() {
    canvas_.text(left_px, y_ + 18, p_.title, "title");
    const double top = y_ + 52, bottom = top + 260;
    const Scale x{0.0, end_, left_px, right_px}, y{0.0, 1.0, bottom, top};
    canvas_.frame(x, y, unit_, "chance that a lot is accepted");
    upright(x, top, bottom, 100.0 * p_.aql_p, "AQL", "level", "level-ink", 0.03);
    for (const OcPoint& point : p_.of_lot)
      if (100.0 * point.p <= end_) canvas_.dot(x.px(100.0 * point.p), y.px(point.acceptance), 2.6, "edge");
    // The line lies over the dots: where both are one, both are seen.
    canvas_.path(line_through(p_.process, x, y, &OcPoint::acceptance, 1.0), "trace");
    mark(x, y, p_.producers_p, 0.95);
    mark(x, y, p_.consumers_p, 0.10);
    // Legend, where the curve has come down.
    const double at = right_px - 330;
    canvas_.line(at, top + 14, at + 26, top + 14, "trace");
    canvas_.text(at + 34, top + 18, p_.defects ? "lots of a process (Poisson)" : "lots of a process (type B, binomial)",
                 "");
    if (!p_.of_lot.empty()) {
      canvas_.dot(at + 13, top + 34, 2.6, "edge");
      canvas_.text(at + 34, top + 38, "this lot, unit by unit (type A, hypergeometric)", "");
    }
    y_ = bottom + 56;
  }

  void outgoing() {
    double most = 100.0 * p_.outgoing.outgoing;
    if (!(most > 0.0)) {
      canvas_.text(left_px, y_ + 18, "Every unit is inspected: nothing leaves that was not tested.", "soft");
      y_ += 36;
      return;
    }
    const double top = y_ + 40, bottom = top + 130;
    const Scale x{0.0, end_, left_px, right_px}, y{0.0, 1.25 * most, bottom, top};
    canvas_.frame(x, y, unit_,
                  p_.defects ? "defects per hundred units that leave, rejected lots sorted"
                             : "percent defective that leaves, rejected lots sorted");
    canvas_.line(left_px, y.px(most), right_px, y.px(most), "ref");
    canvas_.text(
        right_px - 4, y.px(most) - 5,
        fmt::format("limit (AOQL) {:.3g}{}, when {:.3g} comes in", most, p_.defects ? "" : " %", 100.0 * p_.outgoing.p),
        "ref-ink end");
    canvas_.path(line_through(p_.process, x, y, &OcPoint::outgoing, 100.0), "trace");
    y_ = bottom + 56;
  }

  void inspection() {
    double most = 0.0;
    for (const OcPoint& point : p_.process) most = std::max(most, point.total_inspection);
    const double top = y_ + 40, bottom = top + 110;
    const Scale x{0.0, end_, left_px, right_px}, y{0.0, 1.08 * most, bottom, top};
    canvas_.frame(x, y, unit_, "units tested per lot on average, rejected lots sorted");
    canvas_.path(line_through(p_.process, x, y, &OcPoint::total_inspection, 1.0), "trace");
    y_ = bottom + 50;
  }

  std::string document() const { return svg::document(y_, p_.title, canvas_.body()); }

 private:
  void upright(const Scale& x, double top, double bottom, double value, const char* name, const char* style,
               const char* ink, double low) {
    if (value > end_) return;
    canvas_.line(x.px(value), top, x.px(value), bottom, style);
    // Left of its line, where the producer's point does not stand in its way.
    const bool room = x.px(value) > left_px + 70.0;
    canvas_.text(x.px(value) + (room ? -5.0 : 5.0), bottom - low * (bottom - top), fmt::format("{} {:g}", name, value),
                 std::string{ink} + (room ? " end" : ""));
  }
  void mark(const Scale& x, const Scale& y, const std::optional<double>& p, double pa) {
    if (!p || 100.0 * *p > end_) return;
    canvas_.line(x.from_px, y.px(pa), x.px(100.0 * *p), y.px(pa), "ref");
    canvas_.line(x.px(100.0 * *p), y.px(pa), x.px(100.0 * *p), y.from_px, "ref");
    // Beside the line of the AQL, too, where both stand close together.
    const double at = pa > 0.5 ? std::max(x.px(100.0 * *p), x.px(100.0 * p_.aql_p)) + 9.0 : x.px(100.0 * *p) + 7.0;
    canvas_.text(at, y.px(pa) - 6, fmt::format("{:.0f} % accepted at {:.3g}", 100.0 * pa, 100.0 * *p), "ref-ink");
  }

  const OcPicture& p_;
  Canvas canvas_;
  double y_ = 6.0, end_ = 1.0;
  std::string unit_;
};

}  // namespace

std::string oc_picture_svg(const OcPicture& picture) {
  Sheet sheet{picture};
  sheet.acceptance();
  sheet.outgoing();
  sheet.inspection();
  return sheet.document();
}

}  // namespace switchwright
