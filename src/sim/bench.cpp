#include "sim/bench.hpp"

#include <cmath>
#include <limits>
#include <stdexcept>

namespace switchwright::sim {

namespace {
constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double most_stray_v = 0.002;
}  // namespace

Bench::Bench(Profile profile, const SimulatorSettings& settings)
    : profile_(std::move(profile)),
      faults_(settings.faults),
      parts_{.closed_contact_ohm = settings.healthy_contact_ohm, .open_contact_ohm = infinite},
      lead_ohm_(settings.lead_ohm),
      known_source_v_(settings.known_source_v),
      stray_(settings.seed + 0x9E3779B97F4A7C15U) {
  if (!profile_.positions.empty()) arrangement_.position = profile_.positions.front().id;
  at_probes_ = look();
}

bool Bench::obey(const HandsMessage& message) {
  Arrangement wanted = arrangement_;
  if (message.probes) wanted.probes = *message.probes;
  if (message.pair) wanted.pair = *message.pair;
  if (message.pair && !message.probes) wanted.probes = Probes::on_pair;
  if (message.position) wanted.position = *message.position;
  if (message.dial) wanted.dial = *message.dial;
  if (wanted.probes == Probes::on_pair && wanted.pair.first().empty())
    throw std::invalid_argument("probes on a pair need \"pair\"");
  if (wanted == arrangement_) return false;
  arrangement_ = wanted;
  at_probes_ = look();
  return true;
}

AtProbes Bench::look() {
  AtProbes at;
  at.lead_ohm = lead_ohm_;
  at.volt_dc = std::uniform_real_distribution<>{-most_stray_v, most_stray_v}(stray_);
  at.volt_ac = std::uniform_real_distribution<>{0.0, most_stray_v}(stray_);
  switch (arrangement_.probes) {
    case Probes::off:
      at.ohm = infinite;
      break;
    case Probes::shorted:
      at.ohm = at.volt_dc = at.volt_ac = 0.0;
      break;
    case Probes::on_pair:
      at.ohm = network_of(profile_, arrangement_.position, parts_, faults_)
                   .resistance_ohm(arrangement_.pair.first(), arrangement_.pair.second());
      break;
    case Probes::on_known_source:  // an ohmmeter on a live source shows nothing of use: overload
      at.ohm = infinite;
      at.volt_ac = known_source_v_;
      break;
  }
  return at;
}

double ideal_value(const AtProbes& at, Quantity quantity) {
  constexpr double diode_test_a = 1e-3;      // usual test current of a diode range
  constexpr double room_temperature = 23.0;  // the reference temperature of most accuracy tables
  switch (quantity) {
    case Quantity::resistance:
    case Quantity::continuity:
      return at.ohm + at.lead_ohm;
    case Quantity::resistance_4_wire:
      return at.ohm;
    case Quantity::diode:
      return (at.ohm + at.lead_ohm) * diode_test_a;
    case Quantity::voltage_dc:
      return at.volt_dc;
    case Quantity::voltage_ac:
      return at.volt_ac;
    case Quantity::temperature:
      return room_temperature;
    case Quantity::current_dc:
    case Quantity::current_ac:
    case Quantity::frequency:
    case Quantity::duty:
    case Quantity::capacitance:
      return 0.0;
  }
  return 0.0;
}

}  // namespace switchwright::sim
