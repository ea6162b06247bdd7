#include "sim/probes.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace switchwright::sim {

namespace {
constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double most_stray_v = 0.002;
constexpr double most_ghost_v = 8.0;
constexpr double live_from_v = 1.0;
}  // namespace

ProbePair::ProbePair(const SimulatorSettings& settings, Probes probes, Pair pair, std::uint64_t seed)
    : lead_ohm_(settings.lead_ohm),
      known_source_v_(settings.known_source_v),
      known_source_dc_v_(settings.known_source_dc_v),
      shorted_ohm_(settings.shorted_ohm),
      offset_ohm_(settings.offset_ohm),
      volts_(settings.volts),
      fingers_(settings.fingers),
      supply_(settings.current),
      stray_(seed + 0x9E3779B97F4A7C15U) {
  place(probes, pair);
}

void ProbePair::place(Probes probes, const Pair& pair) {
  probes_ = probes;
  pair_ = pair;
  stray_dc_v_ = std::uniform_real_distribution<>{-most_stray_v, most_stray_v}(stray_);
  stray_ac_v_ = std::uniform_real_distribution<>{0.0, most_stray_v}(stray_);
  ghost_v_ = std::uniform_real_distribution<>{0.0, most_ghost_v}(stray_);
}

double ProbePair::resistance_ohm(const LiveSwitch& part) const {
  if (probes_ == Probes::shorted) return shorted_ohm_;
  if (probes_ != Probes::on_pair) return infinite;  // nothing touched, or a live source: overload
  if (const auto skin = fingers_.find(part.position()); skin != fingers_.end()) return skin->second;
  return part.powered() ? infinite : part.resistance_ohm(pair_);
}

double ProbePair::foreign_v(const LiveSwitch& part, bool dc) const {
  constexpr double joined_ohm = 10.0;
  if (probes_ != Probes::on_pair || fingers_.contains(part.position())) return 0.0;
  const auto joined = [&](const std::string& a, const std::string& b) {
    return a == b || part.resistance_ohm({a, b}) < joined_ohm;
  };
  double volts = 0.0;
  for (const SimulatedVolts& source : volts_) {
    if (source.dc != dc) continue;
    const std::string& from = source.pair.first();
    const std::string& to = source.pair.second();
    if (joined(pair_.first(), from) && joined(pair_.second(), to))
      volts += source.volts;
    else if (joined(pair_.first(), to) && joined(pair_.second(), from))
      volts -= source.volts;
  }
  return volts;
}

/// A meter makes its ohms from the volts that its own current gives; volts that are there already are taken for ohms.
double ProbePair::shown_ohm(const LiveSwitch& part, bool two_wire) const {
  constexpr double test_current_a = 1e-3;
  if (std::abs(foreign_v(part, false)) > live_from_v) return infinite;
  return resistance_ohm(part) + (two_wire ? lead_ohm_ : 0.0) + offset_ohm_ + foreign_v(part, true) / test_current_a;
}

double ProbePair::flowing_a(const LiveSwitch& part) const {
  if (probes_ != Probes::on_pair || driven_a_ == 0.0) return 0.0;
  const double ohm = part.resistance_ohm(pair_);
  if (!std::isfinite(ohm)) return 0.0;
  const double most = ohm > 0.0 ? supply_.open_circuit_v / ohm : infinite;
  return std::copysign(std::min(std::abs(driven_a_), most), driven_a_);
}

double ProbePair::direct_v(const LiveSwitch& part) const {
  constexpr double low_ohm = 1e4;  // what is picked up from the room does not stand over so little
  if (probes_ == Probes::shorted) return 0.0;
  if (probes_ != Probes::on_pair || part.powered()) return stray_dc_v_;
  const double ohm = part.resistance_ohm(pair_);
  if (driven_a_ != 0.0 && !std::isfinite(ohm)) return std::copysign(supply_.open_circuit_v, driven_a_);
  const double at_rest_v =
      ohm < low_ohm ? supply_.thermal_v + supply_.thermal_drift_v_per_s * part.now_s() : stray_dc_v_;
  return driven_a_ == 0.0 ? at_rest_v : flowing_a(part) * ohm + at_rest_v;
}

double ProbePair::alternating_v(const LiveSwitch& part, double window_s) const {
  switch (probes_) {
    case Probes::off: return stray_ac_v_;
    case Probes::shorted: return 0.0;
    case Probes::on_known_source: return known_source_v_;
    case Probes::on_pair: break;
  }
  if (const double foreign = foreign_v(part, false); foreign != 0.0) return std::hypot(foreign, stray_ac_v_);
  const auto volts = part.rms_v(pair_, window_s);
  if (!volts) return part.powered() ? ghost_v_ : stray_ac_v_;
  return std::hypot(*volts, stray_ac_v_);
}

double ProbePair::ideal_value(const LiveSwitch& part, Quantity quantity, double window_s) const {
  constexpr double diode_test_a = 1e-3;      // usual test current of a diode range
  constexpr double room_temperature = 23.0;  // the reference temperature of most accuracy tables
  constexpr double mains_hz = 60.0;
  switch (quantity) {
    case Quantity::resistance:
    case Quantity::continuity: return shown_ohm(part, true);
    case Quantity::resistance_4_wire: return shown_ohm(part, false);
    case Quantity::diode: return (resistance_ohm(part) + lead_ohm_) * diode_test_a;
    case Quantity::voltage_dc:
      if (probes_ == Probes::on_known_source) return known_source_dc_v_;
      return direct_v(part) + foreign_v(part, true);
    case Quantity::voltage_ac: return alternating_v(part, window_s);
    case Quantity::frequency: return alternating_v(part, window_s) > live_from_v ? mains_hz : 0.0;
    case Quantity::temperature: return room_temperature;
    case Quantity::current_dc:
    case Quantity::current_ac:
    case Quantity::duty:
    case Quantity::capacitance: return 0.0;
  }
  return 0.0;
}

}  // namespace switchwright::sim
