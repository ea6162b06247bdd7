#include "sim/cycling_contact.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace switchwright::sim {

namespace {

constexpr double never = std::numeric_limits<double>::infinity();

/// Time until a first-order change from `from` towards `target` is at `to` or above; infinity when it never
/// is.
double time_to_rise(double tau_s, double from, double target, double to) {
  if (from >= to) return 0.0;
  if (target <= to) return never;
  return tau_s * std::log((target - from) / (target - to));
}

}  // namespace

CyclingContact::CyclingContact(const CyclingContactSettings& settings, double start_s)
    : settings_(settings), scatter_(settings.seed), now_s_(start_s) {}

void CyclingContact::heat(double closed_rise_k, double open_rise_k) {
  closed_rise_k_ = closed_rise_k;
  open_rise_k_ = open_rise_k;
}

void CyclingContact::set_snap_points(const std::optional<SnapPoints>& points) {
  if (points && !(points->closes_at_k < points->opens_at_k))
    throw std::invalid_argument("a contact closes below the rise at which it opens");
  if (points == points_) return;
  points_ = points;
  draw_snap_points();
}

void CyclingContact::draw_snap_points() {
  present_ = points_;
  if (!present_) return;
  const double drift = 1.0 + settings_.drift_per_opening * static_cast<double>(openings_);
  present_->closes_at_k *= drift;
  present_->opens_at_k *= drift;
  if (settings_.scatter <= 0.0) return;
  std::normal_distribution<> share{1.0, settings_.scatter};
  const double band_k = present_->opens_at_k - present_->closes_at_k;
  present_->closes_at_k *= std::max(0.01, share(scatter_));
  present_->opens_at_k = std::max(present_->opens_at_k * share(scatter_), present_->closes_at_k + 0.05 * band_k);
}

double CyclingContact::next_snap_s() const {
  if (welded_) return never;
  if (!present_) return snapped_closed_ ? never : now_s_;  // the cam pushes it shut at once
  const double tau_s = settings_.time_constant_s;
  if (snapped_closed_) return now_s_ + time_to_rise(tau_s, rise_k_, closed_rise_k_, present_->opens_at_k);
  return now_s_ + time_to_rise(tau_s, -rise_k_, -open_rise_k_, -present_->closes_at_k);
}

double CyclingContact::next_event_s() const {
  const double snap_s = next_snap_s();
  return bounce_.empty() ? snap_s : std::min(snap_s, bounce_.front().at_s);
}

void CyclingContact::pass_time(double to_s) {
  const double target_k = final_rise_k();
  rise_k_ = target_k + (rise_k_ - target_k) * std::exp(-(to_s - now_s_) / settings_.time_constant_s);
  now_s_ = to_s;
}

void CyclingContact::snap(std::vector<ContactEvent>& out) {
  if (snapped_closed_) {
    if (settings_.welds_at_operation && openings_ + 1 >= *settings_.welds_at_operation) {
      welded_ = true;
      return;
    }
    rise_k_ = std::max(rise_k_, present_->opens_at_k);  // exactly at the crossing, whatever exp() rounds to
    ++openings_;
  } else if (present_) {
    rise_k_ = std::min(rise_k_, present_->closes_at_k);
  }
  snapped_closed_ = !snapped_closed_;
  electrically_closed_ = snapped_closed_;
  bounce_.clear();
  out.push_back({now_s_, snapped_closed_});
  draw_snap_points();
  if (!snapped_closed_) return;
  double at_s = now_s_;
  double length_s = settings_.bounce_s;
  for (int i = 0; i < settings_.bounces; ++i, length_s *= 0.5) {
    bounce_.push_back({at_s += length_s, false});
    bounce_.push_back({at_s += length_s, true});
  }
}

void CyclingContact::advance(double to_s, std::vector<ContactEvent>& out) {
  for (double event_s = next_event_s(); event_s <= to_s; event_s = next_event_s()) {
    pass_time(event_s);
    if (!bounce_.empty() && bounce_.front().at_s <= event_s) {
      electrically_closed_ = bounce_.front().closed;
      out.push_back(bounce_.front());
      bounce_.pop_front();
    } else {
      snap(out);
    }
  }
  if (to_s > now_s_) pass_time(to_s);
}

}  // namespace switchwright::sim
