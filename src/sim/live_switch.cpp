#include "sim/live_switch.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "switchwright/core/error.hpp"

namespace switchwright::sim {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
/// Longest averaging window of any meter; older stretches are forgotten.
constexpr double remembered_s = 60.0;
/// How long a supply that sways stays as it is.
constexpr double supply_step_s = 0.5;

/// The bench as it is wired here, which may not be what the profile says.
Profile wired(Profile profile, const SimulatedPower& power) {
  if (!profile.powered) return profile;
  if (power.supply_between) profile.powered->supply = *power.supply_between;
  if (power.earth) profile.powered->earth = *power.earth;
  if (std::isinf(power.bond_ohm)) profile.powered->earth.clear();
  return profile;
}

CyclingContactSettings contact_settings(const SimulatorSettings& settings) {
  const SimulatedPower& power = settings.power;
  const auto refuse = [](const char* what) { throw Error(ErrorKind::usage, what, "simulated switch"); };
  if (!(power.time_constant_s > 0.0)) refuse("the time constant must be above 0 s");
  if (!(power.rated_rise_k > 0.0)) refuse("the rise at rated voltage must be above 0 K");
  if (!(power.scatter >= 0.0 && power.scatter < 0.5)) refuse("the scatter must be from 0 to 0.5");
  if (power.supply_v && !(*power.supply_v >= 0.0)) refuse("the supply voltage cannot be negative");
  if (!(power.sway >= 0.0 && power.sway < 0.5) || !(power.ripple >= 0.0 && power.ripple < 0.5))
    refuse("sway and ripple of the supply must be from 0 to 0.5");
  if (!(power.sway_period_s > 0.0)) refuse("the supply sways over a time above 0 s");
  if (power.bounces < 0 || power.bounces > 1000) refuse("there are 0 to 1000 bounces");
  CyclingContactSettings contact;
  contact.time_constant_s = power.time_constant_s;
  contact.welds_at_operation = power.welds_at_operation;
  contact.drift_per_opening = power.drift_per_opening;
  contact.scatter = power.scatter;
  contact.bounces = power.bounces;
  contact.bounce_s = power.bounce_s;
  contact.seed = settings.seed;
  return contact;
}

/// Under which name the probes find a node when leads are exchanged.
std::string seen_as(std::string node, const std::vector<Fault>& faults) {
  for (const Fault& fault : faults) {
    if (fault.kind != FaultKind::swapped) continue;
    if (node == fault.id)
      node = fault.other;
    else if (node == fault.other)
      node = fault.id;
  }
  return node;
}

double middle(const Interval& interval, double otherwise) {
  if (interval.bounded_above()) return 0.5 * (std::max(0.0, interval.min) + interval.max);
  return interval.bounded_below() && interval.min > 0.0 ? 2.0 * interval.min : otherwise;
}

struct OnOff {
  double on_s;
  double off_s;
};

/// What a sound switch does at rated voltage: the middle of the profile's limits, and where it has none,
/// cycles of half a minute whose duty grows evenly over the cycling positions (invented).
OnOff sound_timing(const Profile& profile, const std::string& position) {
  int place = 0;
  int count = 0;
  for (const Position& each : profile.positions) {
    if (std::none_of(profile.contacts.begin(), profile.contacts.end(),
                     [&](const Contact& contact) { return contact.cycles(each.id); }))
      continue;
    ++count;
    if (each.id == position) place = count;
  }
  double duty = static_cast<double>(place) / (count + 1);
  double period_s = 30.0;
  for (const Timing& timing : profile.timing) {
    if (timing.position != position) continue;
    if (timing.duty) duty = std::clamp(middle(*timing.duty, duty), 0.01, 0.99);
    if (timing.period_s) period_s = middle(*timing.period_s, period_s);
    if (timing.on_s && timing.off_s) return {middle(*timing.on_s, 10.0), middle(*timing.off_s, 20.0)};
    if (timing.on_s) return {middle(*timing.on_s, 10.0), middle(*timing.on_s, 10.0) * (1.0 - duty) / duty};
    if (timing.off_s) return {middle(*timing.off_s, 20.0) * duty / (1.0 - duty), middle(*timing.off_s, 20.0)};
  }
  return {period_s * duty, period_s * (1.0 - duty)};
}

}  // namespace

LiveSwitch::LiveSwitch(Profile profile, const SimulatorSettings& settings, double start_s)
    : rated_(std::move(profile)),
      profile_(wired(rated_, settings.power)),
      faults_(settings.faults),
      parts_{settings.healthy_contact_ohm, infinite},
      power_(settings.power),
      start_s_(start_s),
      next_supply_s_(infinite),
      ripple_(settings.seed),
      now_s_(start_s) {
  if (profile_.positions.empty()) throw Error(ErrorKind::usage, "the profile has no knob position", profile_.id);
  position_ = profile_.positions.front().id;
  closings_ = settings.closings;
  for (const auto& [id, values] : closings_)
    if (values.empty() || std::none_of(profile_.contacts.begin(), profile_.contacts.end(),
                                       [&](const Contact& contact) { return contact.id == id; }))
      throw Error(ErrorKind::usage, "no contact is called \"" + id + "\", or it is given no ohms", profile_.id);
  pass(profile_.positions.front());
  if (profile_.powered) mean_supply_v_ = power_.supply_v.value_or(profile_.powered->voltage_v);
  supply_v_ = mean_supply_v_;
  next_supply_s_ = next_supply_change_s(start_s);
  bimetals_ = make_bimetals(settings, start_s);
  if (power_.load_ohm && profile_.powered) {
    auto& loads = profile_.powered->loads;
    const auto load = std::find_if(loads.begin(), loads.end(), [](const PoweredLoad& each) { return !each.lamp; });
    if (!(*power_.load_ohm > 0.0) || load == loads.end())
      throw Error(ErrorKind::usage, "the profile has no load to exchange, or it is not above 0 ohm", profile_.id);
    load->ohm = *power_.load_ohm;
  }
  changed(start_s);
}

void LiveSwitch::set_power(double at_s, bool on) {
  if (on && !profile_.powered) throw std::invalid_argument("the profile has no [powered] part: nothing to connect");
  advance(at_s);
  power_on_ = on;
  if (on && !first_on_s_) {
    first_on_s_ = at_s;
    next_supply_s_ = next_supply_change_s(at_s);
    if (is_lost(at_s)) supply_v_ = 0.0;
  }
  changed(at_s);
}

void LiveSwitch::turn_knob(double at_s, const std::string& position) {
  advance(at_s);
  const auto index_of = [&](const std::string& id) {
    return std::find_if(profile_.positions.begin(), profile_.positions.end(),
                        [&](const Position& each) { return each.id == id; });
  };
  const auto to = index_of(position);
  for (auto at = index_of(position_); at != to && to != profile_.positions.end();) {
    at < to ? ++at : --at;
    pass(*at);
  }
  position_ = position;
  changed(at_s);
}

void LiveSwitch::pass(const Position& position) {
  for (const auto& [id, values] : closings_)
    for (const Contact& contact : profile_.contacts) {
      if (contact.id != id) continue;
      const bool closed = contact.conducts_at(position.id);
      if (closed && !closed_now_[id]) ++closed_times_[id];
      closed_now_[id] = closed;
    }
}

/// From event to event: each contact's next instant is known exactly, and so is that of the supply's next
/// change.
void LiveSwitch::advance(double to_s) {
  if (to_s <= now_s_) return;
  std::vector<ContactEvent> events;
  for (;;) {
    double next_s = next_supply_s_;
    for (const Bimetal& bimetal : bimetals_) next_s = std::min(next_s, bimetal.snap.next_event_s());
    if (next_s > to_s) break;
    events.clear();
    bool welds = false;
    for (Bimetal& bimetal : bimetals_) {
      const bool was_welded = bimetal.snap.welded();
      bimetal.snap.advance(next_s, events);
      welds = welds || bimetal.snap.welded() != was_welded;
    }
    now_s_ = next_s;
    const bool supply_changes = next_supply_s_ <= next_s;
    if (supply_changes) set_supply(next_s);
    if (welds || supply_changes || bimetals_.size() > 1) warm();
    if (!events.empty() || welds || supply_changes) remember(next_s);
  }
  for (Bimetal& bimetal : bimetals_) bimetal.snap.advance(to_s, events);
  now_s_ = to_s;
  while (stretches_.size() > 1 && stretches_[1].from_s < to_s - remembered_s) stretches_.pop_front();
}

/// A slow sway and a ripple, held for a step each, so that between two changes everything stays exact.
void LiveSwitch::set_supply(double at_s) {
  constexpr double turn = 6.283185307179586;
  const double sway = power_.sway * std::sin(turn * (at_s - start_s_) / power_.sway_period_s);
  const double ripple = power_.ripple * std::uniform_real_distribution<>{-1.0, 1.0}(ripple_);
  supply_v_ = is_lost(at_s) ? 0.0 : mean_supply_v_ * (1.0 + sway + ripple);
  next_supply_s_ = next_supply_change_s(at_s);
}

/// From when until when the supply gives nothing; beyond all time when it is not lost.
Interval LiveSwitch::lost_s() const {
  if (!first_on_s_ || !power_.supply_lost_at_s) return {infinite, infinite};
  const double from_s = *first_on_s_ + *power_.supply_lost_at_s;
  return {from_s, from_s + power_.supply_lost_for_s.value_or(infinite)};
}

bool LiveSwitch::is_lost(double at_s) const {
  const Interval lost = lost_s();
  return at_s >= lost.min && at_s < lost.max;
}

double LiveSwitch::next_supply_change_s(double at_s) const {
  double next_s = power_.sway > 0.0 || power_.ripple > 0.0 ? at_s + supply_step_s : infinite;
  const Interval lost = lost_s();
  for (const double edge_s : {lost.min, lost.max})
    if (edge_s > at_s) next_s = std::min(next_s, edge_s);
  return next_s;
}

/// What each bimetal is heated towards, with the others as they are.
void LiveSwitch::warm() {
  for (Bimetal& bimetal : bimetals_)
    bimetal.snap.heat(power_.rated_rise_k * heat_share(bimetal, true),
                      power_.rated_rise_k * heat_share(bimetal, false));
}

/// Knob or power changed: another circuit, other heating, other snap points.
void LiveSwitch::changed(double at_s) {
  for (Bimetal& bimetal : bimetals_) bimetal.snap.set_snap_points(snap_points(bimetal));
  warm();
  remember(at_s);
  std::vector<ContactEvent> events;
  for (Bimetal& bimetal : bimetals_)
    bimetal.snap.advance(at_s, events);  // hotter than its new snap point: lets go at once
  if (events.empty()) return;
  warm();
  remember(at_s);
}

const CyclingContact& LiveSwitch::contact(const std::string& id) const {
  for (const Bimetal& bimetal : bimetals_)
    if (std::find(bimetal.contacts.begin(), bimetal.contacts.end(), id) != bimetal.contacts.end()) return bimetal.snap;
  throw std::out_of_range("no cycling contact is called \"" + id + "\"");
}

/// The elements that get less when this contact opens: what warms the bimetal that opens it.
LiveSwitch::Names LiveSwitch::heaters_behind(const Contact& contact) const {
  Names heaters;
  if (!rated_.powered || contact.cycles_at.empty()) return heaters;
  const std::string& position = contact.cycles_at.front();
  const PoweredSwitch closed{rated_, position, parts_}, open{rated_, position, parts_, {}, {contact.id}};
  for (const Element& element : rated_.elements) {
    const auto volts = [&](const PoweredSwitch& circuit) {
      return circuit.volts(element.between.first(), element.between.second(), 1.0).value_or(0.0);
    };
    if (volts(open) < 0.9 * volts(closed)) heaters.push_back(element.id);
  }
  return heaters;
}

std::vector<LiveSwitch::Bimetal> LiveSwitch::make_bimetals(const SimulatorSettings& settings, double start_s) const {
  std::vector<Bimetal> bimetals;
  CyclingContactSettings own = contact_settings(settings);
  for (const Contact& contact : rated_.contacts) {
    if (contact.cycles_at.empty()) continue;
    const Names heaters = heaters_behind(contact);
    const auto shared = std::find_if(bimetals.begin(), bimetals.end(), [&](const Bimetal& bimetal) {
      return heaters.empty()
                 ? bimetal.heaters.empty()
                 : std::any_of(heaters.begin(), heaters.end(), [&](const std::string& heater) {
                     return std::find(bimetal.heaters.begin(), bimetal.heaters.end(), heater) != bimetal.heaters.end();
                   });
    });
    if (shared != bimetals.end()) {
      shared->contacts.push_back(contact.id);
      continue;
    }
    bimetals.push_back({{contact.id}, heaters, CyclingContact{own, start_s}});
    ++own.seed;
  }
  if (bimetals.empty()) bimetals.push_back({{}, {}, CyclingContact{own, start_s}});
  return bimetals;
}

bool LiveSwitch::cycles_now(const Bimetal& bimetal, const std::string& cam) const {
  return std::any_of(profile_.contacts.begin(), profile_.contacts.end(), [&](const Contact& contact) {
    return contact.cycles(cam) &&
           std::find(bimetal.contacts.begin(), bimetal.contacts.end(), contact.id) != bimetal.contacts.end();
  });
}

/// Contacts that their bimetal holds open at this position; those of one bimetal as if it were so, or not.
LiveSwitch::Names LiveSwitch::opened(const Bimetal* supposed, bool supposed_open) const {
  Names names;
  const std::string cam = cam_position();
  for (const Bimetal& bimetal : bimetals_) {
    const bool open = &bimetal == supposed ? supposed_open : !bimetal.snap.closed();
    if (!open) continue;
    for (const Contact& contact : profile_.contacts)
      if (contact.cycles(cam) &&
          std::find(bimetal.contacts.begin(), bimetal.contacts.end(), contact.id) != bimetal.contacts.end())
        names.push_back(contact.id);
  }
  return names;
}

/// The position as the cam has it: a knob that sits a position too far says another. The profile's own rule
/// for that is asked through a part with one contact per position.
std::string LiveSwitch::cam_position() const {
  std::vector<Fault> clocked;
  for (const Fault& fault : faults_)
    if (fault.kind == FaultKind::clocked) clocked.push_back(fault);
  if (clocked.empty()) return position_;
  Profile indicator;
  indicator.terminals.push_back("common");
  indicator.positions = profile_.positions;
  for (const Position& each : profile_.positions) {
    indicator.terminals.push_back("at " + each.id);
    Contact contact;
    contact.id = each.id;
    contact.between = {"common", "at " + each.id};
    contact.closed_at = {each.id};
    indicator.contacts.push_back(contact);
  }
  const Network network = network_of(indicator, position_, parts_, clocked);
  for (const Position& each : profile_.positions)
    if (std::isfinite(network.resistance_ohm("common", "at " + each.id))) return each.id;
  return position_;
}

std::vector<Fault> LiveSwitch::present_faults() const {
  std::vector<Fault> faults = faults_;
  for (const Bimetal& bimetal : bimetals_)
    if (bimetal.snap.welded())
      for (const std::string& id : bimetal.contacts) faults.push_back({FaultKind::stuck_closed, id, {}, {}});
  return faults;
}

std::shared_ptr<const PoweredSwitch> LiveSwitch::circuit(const Names& opened) const {
  if (!profile_.powered) return nullptr;
  Names welded;
  for (const Bimetal& bimetal : bimetals_)
    if (bimetal.snap.welded()) welded.insert(welded.end(), bimetal.contacts.begin(), bimetal.contacts.end());
  auto& known = circuits_[{position_, opened, welded}];
  if (!known) known = std::make_shared<const PoweredSwitch>(profile_, position_, parts_, present_faults(), opened);
  return known;
}

/// Power that warms a bimetal: in its element "heater", or its first one; in a part without elements the
/// load current does it in the bimetal itself, whose resistance (one ohm here) cancels out of every ratio.
double LiveSwitch::heating_w(const Profile& part, const PoweredSwitch& circuit, const std::vector<Fault>& faults,
                             const Names& heaters, double supply_v) {
  const Element* heater = nullptr;
  for (const Element& element : part.elements)
    if (heaters.empty() || std::find(heaters.begin(), heaters.end(), element.id) != heaters.end())
      if (heater == nullptr || element.id == "heater") heater = &element;
  if (heater == nullptr) {
    for (const PoweredLoad& load : part.powered->loads) {
      if (load.lamp) continue;
      const double current_a =
          circuit.volts(load.between.first(), load.between.second(), supply_v).value_or(0.0) / load.ohm;
      return current_a * current_a;
    }
    return 0.0;
  }
  double ohm = heater->nominal_ohm;
  for (const Fault& fault : faults) {
    if (fault.id != heater->id) continue;
    if (fault.kind == FaultKind::open || fault.kind == FaultKind::shorted) return 0.0;
    if (fault.kind == FaultKind::drifted) ohm *= 1.0 + fault.value.value_or(0.0) / 100.0;
  }
  const auto volts =
      circuit.volts(seen_as(heater->between.first(), faults), seen_as(heater->between.second(), faults), supply_v);
  return volts.value_or(0.0) * volts.value_or(0.0) / ohm;
}

/// Heating as a share of what a sound switch has at this position at rated voltage with its contact closed.
double LiveSwitch::heat_share(const Bimetal& bimetal, bool closed) const {
  if (!power_on_) return 0.0;
  const PoweredSwitch sound{rated_, cam_position(), parts_};
  const double rated_v = profile_.rating.voltage_v > 0.0 ? profile_.rating.voltage_v : profile_.powered->voltage_v;
  const double rated_w = heating_w(rated_, sound, {}, bimetal.heaters, rated_v);
  return rated_w > 0.0
             ? heating_w(profile_, *circuit(opened(&bimetal, !closed)), faults_, bimetal.heaters, supply_v_) / rated_w
             : 0.0;
}

/// From the wanted on and off times: t_on = tau ln((F - c)/(F - o)) and t_off = tau ln(o/c), solved for c and
/// o.
std::optional<SnapPoints> LiveSwitch::snap_points(const Bimetal& bimetal) const {
  const std::string cam = cam_position();
  if (!cycles_now(bimetal, cam)) return std::nullopt;
  const OnOff timing = sound_timing(profile_, cam);
  constexpr double longest = 30.0;  // beyond thirty time constants the exponentials say nothing any more
  const double a = std::exp(std::clamp(timing.off_s / power_.time_constant_s, 1e-6, longest));
  const double b = std::exp(std::clamp(timing.on_s / power_.time_constant_s, 1e-6, longest));
  const double closes_k = power_.rated_rise_k * (b - 1.0) / (a * b - 1.0);
  // A warmer room is a head start, as far as the second bimetal does not take it out.
  const double head_start_k = (1.0 - power_.ambient_compensation) * (power_.ambient_c - 23.0);
  return SnapPoints{closes_k - head_start_k, a * closes_k - head_start_k};
}

double LiveSwitch::resistance_ohm(const Pair& pair) const {
  if (rated_.powered && pair.has(rated_.powered->earth_point)) {
    const std::string& other = pair.first() == rated_.powered->earth_point ? pair.second() : pair.first();
    double least = infinite;
    for (const std::string& metal : bonded_metal(rated_))
      least = std::min(least, power_.bond_ohm + (metal == other ? 0.0 : resistance_ohm({metal, other})));
    return least;
  }
  const auto nodes = profile_.nodes();
  for (const std::string& end : {pair.first(), pair.second()})
    if (std::find(nodes.begin(), nodes.end(), end) == nodes.end()) return infinite;  // a point of the circuit outside
  std::vector<Fault> faults;  // a contact that is open because it is hot; its own faults come after and win
  for (const std::string& id : opened(nullptr, false)) faults.push_back({FaultKind::stuck_open, id, {}, {}});
  for (const auto& [id, values] : closings_)
    if (const auto times = closed_times_.find(id); times != closed_times_.end() && times->second > 0)
      faults.push_back({FaultKind::resistive, id, {}, values[(times->second - 1) % values.size()]});
  for (const Fault& fault : present_faults()) faults.push_back(fault);
  return network_of(profile_, position_, parts_, faults).resistance_ohm(pair.first(), pair.second());
}

std::optional<double> LiveSwitch::rms_v(const Pair& pair, double window_s) const {
  const auto volts_in = [&](const Stretch& stretch) -> std::optional<double> {
    if (stretch.circuit == nullptr || stretch.circuit->shorts_the_supply()) return 0.0;
    return stretch.circuit->volts(pair.first(), pair.second(), stretch.supply_v);
  };
  if (!(window_s > 0.0)) return volts_in(stretches_.back());
  const double from_s = now_s_ - std::min(window_s, remembered_s);
  double sum = 0.0;
  double covered_s = 0.0;
  double until_s = now_s_;
  for (auto stretch = stretches_.rbegin(); stretch != stretches_.rend() && until_s > from_s; ++stretch) {
    const double begin_s = std::max(stretch->from_s, from_s);
    if (begin_s < until_s) {
      const auto volts = volts_in(*stretch);
      if (!volts && covered_s == 0.0) return std::nullopt;
      sum += volts.value_or(0.0) * volts.value_or(0.0) * (until_s - begin_s);
      covered_s += until_s - begin_s;
    }
    until_s = std::min(until_s, stretch->from_s);
  }
  return covered_s > 0.0 ? std::sqrt(sum / covered_s) : volts_in(stretches_.back());
}

}  // namespace switchwright::sim
