#include "switchwright/report/oc_picture.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "report/axes.hpp"
#include "report/svg.hpp"

namespace switchwright {

namespace {

using svg::Paint;
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
    pen_.text(left_px, y_ + 18, p_.title, {17, "start", true});
    const double top = y_ + 52, bottom = top + (p_.acceptance_only ? 150 : 260);
    const Scale x{0.0, end_, left_px, right_px}, y{0.0, 1.0, bottom, top};
    svg::frame(pen_, x, y, unit_, "chance that a lot is accepted");
    upright(x, top, bottom, 100.0 * p_.aql_p, "AQL", 0.03);
    for (const OcPoint& point : p_.of_lot)
      if (100.0 * point.p <= end_)
        pen_.circle(x.px(100.0 * point.p), y.px(point.acceptance), 2.6, svg::fill(Paint::mark));
    // The line lies over the dots: where both are one, both are seen.
    pen_.path(line_through(p_.process, x, y, &OcPoint::acceptance, 1.0), svg::stroke(Paint::trace, 2));
    mark(x, y, p_.producers_p, 0.95);
    mark(x, y, p_.consumers_p, 0.10);
    // Legend, where the curve has come down.
    const double at = right_px - 330;
    pen_.line(at, top + 14, at + 26, top + 14, Paint::trace, 2);
    pen_.text(at + 34, top + 18, p_.defects ? "lots of a process (Poisson)" : "lots of a process (type B, binomial)");
    if (!p_.of_lot.empty()) {
      pen_.circle(at + 13, top + 34, 2.6, svg::fill(Paint::mark));
      pen_.text(at + 34, top + 38, "this lot, unit by unit (type A, hypergeometric)");
    }
    y_ = bottom + 56;
  }

  void outgoing() {
    double most = 100.0 * p_.outgoing.outgoing;
    if (!(most > 0.0)) {
      pen_.text(left_px, y_ + 18, "Every unit is inspected: nothing leaves that was not tested.",
                {13, "start", false, Paint::muted});
      y_ += 36;
      return;
    }
    const double top = y_ + 40, bottom = top + 130;
    const Scale x{0.0, end_, left_px, right_px}, y{0.0, 1.25 * most, bottom, top};
    svg::frame(pen_, x, y, unit_,
               p_.defects ? "defects per hundred units that leave, rejected lots sorted"
                          : "percent defective that leaves, rejected lots sorted");
    pen_.line(left_px, y.px(most), right_px, y.px(most), Paint::reference, 1.2);
    pen_.text(
        right_px - 4, y.px(most) - 5,
        fmt::format("limit (AOQL) {:.3g}{}, when {:.3g} comes in", most, p_.defects ? "" : " %", 100.0 * p_.outgoing.p),
        {13, "end", false, Paint::reference});
    pen_.path(line_through(p_.process, x, y, &OcPoint::outgoing, 100.0), svg::stroke(Paint::trace, 2));
    y_ = bottom + 56;
  }

  void inspection() {
    double most = 0.0;
    for (const OcPoint& point : p_.process) most = std::max(most, point.total_inspection);
    const double top = y_ + 40, bottom = top + 110;
    const Scale x{0.0, end_, left_px, right_px}, y{0.0, 1.08 * most, bottom, top};
    svg::frame(pen_, x, y, unit_, "units tested per lot on average, rejected lots sorted");
    pen_.path(line_through(p_.process, x, y, &OcPoint::total_inspection, 1.0), svg::stroke(Paint::trace, 2));
    y_ = bottom + 50;
  }

  std::string document() const {
    return pen_.document(y_, {"curve", p_.title, "What a lot of each quality meets under this plan."});
  }

 private:
  void upright(const Scale& x, double top, double bottom, double value, const char* name, double low) {
    if (value > end_) return;
    pen_.line(x.px(value), top, x.px(value), bottom, Paint::level, 1.5);
    // Left of its line, where the producer's point does not stand in its way.
    const bool room = x.px(value) > left_px + 70.0;
    pen_.text(x.px(value) + (room ? -5.0 : 5.0), bottom - low * (bottom - top), fmt::format("{} {:g}", name, value),
              {13, room ? "end" : "start", false, Paint::level});
  }
  void mark(const Scale& x, const Scale& y, const std::optional<double>& p, double pa) {
    if (!p || 100.0 * *p > end_) return;
    pen_.line(x.from_px, y.px(pa), x.px(100.0 * *p), y.px(pa), Paint::reference, 1.2);
    pen_.line(x.px(100.0 * *p), y.px(pa), x.px(100.0 * *p), y.from_px, Paint::reference, 1.2);
    // Beside the line of the AQL, too, where both stand close together.
    const double at = pa > 0.5 ? std::max(x.px(100.0 * *p), x.px(100.0 * p_.aql_p)) + 9.0 : x.px(100.0 * *p) + 7.0;
    pen_.text(at, y.px(pa) + (p_.acceptance_only && pa > 0.5 ? 16 : -6),
              fmt::format("{:.0f} % accepted at {:.3g}", 100.0 * pa, 100.0 * *p),
              {13, "start", false, Paint::reference});
  }

  const OcPicture& p_;
  svg::Drawing pen_{960};
  double y_ = 6.0, end_ = 1.0;
  std::string unit_;
};

}  // namespace

std::string oc_picture_svg(const OcPicture& picture) {
  Sheet sheet{picture};
  sheet.acceptance();
  if (picture.acceptance_only) return sheet.document();
  sheet.outgoing();
  sheet.inspection();
  return sheet.document();
}

}  // namespace switchwright
