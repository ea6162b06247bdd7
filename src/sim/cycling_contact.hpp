// A contact on a heated bimetal. Between two events its temperature rise follows tau dT/dt = Tfinal - T, so
// the instant of the next event is known in closed form and no time is stepped through:
//
//   closed, heated:   t_on  = tau ln((Tfinal - Tcloses) / (Tfinal - Topens))
//   open, cooling:    t_off = tau ln(Topens / Tcloses)
//
// (first-order law; with Tcloses = 1/3 and Topens = 2/3 of Tfinal both are tau ln 2, as in an RC astable).
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <random>
#include <vector>

namespace switchwright::sim {

struct CyclingContactSettings {
  double time_constant_s = 30.0;
  /// Opening number N welds the contact instead; nothing: it lasts.
  std::optional<std::int64_t> welds_at_operation;
  double drift_per_opening = 0.0;  ///< both thresholds grow by this share with every opening
  double scatter = 0.0;            ///< standard deviation of each threshold from one operation to the next, as a share
  int bounces = 0;                 ///< times the contact opens again right after closing
  double bounce_s = 0.002;         ///< first bounce; each further one lasts half as long
  std::uint64_t seed = 1;
};

/// Temperature rises above ambient at which the snap spring lets go, set by the knob.
struct SnapPoints {
  double closes_at_k = 0.0;
  double opens_at_k = 0.0;
  friend bool operator==(const SnapPoints&, const SnapPoints&) = default;
};

struct ContactEvent {
  double at_s = 0.0;
  bool closed = false;  ///< from this instant on
  friend bool operator==(const ContactEvent&, const ContactEvent&) = default;
};

/// Pure: time is whatever the caller says, in seconds from a zero of its own, and never runs back.
/// Thread rule: one owner, one thread.
class CyclingContact {
 public:
  /// Cold and closed at `start_s`. Without snap points (a cam that holds it shut) it stays closed.
  explicit CyclingContact(const CyclingContactSettings& settings, double start_s = 0.0);

  /// The rise the bimetal would reach in the end with the contact closed and with it open, in kelvin; 0
  /// without power. Call advance to the same instant first, here and in set_snap_points.
  void heat(double closed_rise_k, double open_rise_k = 0.0);
  /// @throws std::invalid_argument unless closes_at_k is below opens_at_k.
  void set_snap_points(const std::optional<SnapPoints>& points);

  /// Appends every event up to and including `to_s`, in order, at its exact instant.
  void advance(double to_s, std::vector<ContactEvent>& out);
  /// Instant of the next event if nothing changes; infinity when there is none.
  double next_event_s() const;

  bool closed() const { return electrically_closed_; }
  /// Bimetal's rise above ambient at the instant advanced to, in kelvin.
  double rise_k() const { return rise_k_; }
  bool welded() const { return welded_; }
  std::int64_t openings() const { return openings_; }

 private:
  double final_rise_k() const { return snapped_closed_ ? closed_rise_k_ : open_rise_k_; }
  double next_snap_s() const;
  void pass_time(double to_s);
  void snap(std::vector<ContactEvent>& out);
  void draw_snap_points();

  CyclingContactSettings settings_;
  std::mt19937_64 scatter_;
  std::optional<SnapPoints> points_;   ///< as the knob sets them
  std::optional<SnapPoints> present_;  ///< with drift and scatter
  double now_s_;
  double closed_rise_k_ = 0.0;
  double open_rise_k_ = 0.0;
  double rise_k_ = 0.0;
  bool snapped_closed_ = true;       ///< where the bimetal holds it
  bool electrically_closed_ = true;  ///< with bounce
  bool welded_ = false;
  std::int64_t openings_ = 0;
  std::deque<ContactEvent> bounce_;
};

}  // namespace switchwright::sim
