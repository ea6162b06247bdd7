// Puts the simulated bench together: one switch, the meters in front of it, and the hands that move all of
// it.
#include "switchwright/sim/simulator.hpp"

#include <algorithm>
#include <stdexcept>

#include "sim/hands_socket.hpp"
#include "sim/live_switch.hpp"
#include "sim/meter_station.hpp"
#include "sim/probes.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/hands/hands_message.hpp"

namespace switchwright {

using namespace switchwright::sim;

struct Simulator::Impl {
  /// A meter, its probes, and the hands that wait for its next reading.
  struct Place {
    Place(const SimulatorSettings& settings, std::string meter_name, Probes where, const Pair& pair, std::uint64_t seed)
        : name(std::move(meter_name)), probes(settings, where, pair, seed) {}

    struct Waiting {
      std::string id;
      int readings;
      Answer answer;
      std::optional<double> supply_shows_a;
      std::string label{};
    };
    /// Answers whoever's change has become a reading.
    void acknowledge() {
      for (Waiting& one : waiting)
        if (--one.readings == 0) one.answer(done_line(one.id, one.supply_shows_a, one.label));
      std::erase_if(waiting, [](const Waiting& one) { return one.readings <= 0; });
    }

    std::string name;
    ProbePair probes;
    std::vector<Waiting> waiting;
    std::unique_ptr<MeterStation> station;
  };

  Impl(Loop& the_loop, const Clock& the_clock, const Profile& profile, const MeterDefinition& definition,
       const SimulatorSettings& the_settings)
      : loop(the_loop),
        clock(the_clock),
        start(clock.now().monotonic),
        settings(the_settings),
        rated(with_references(profile, the_settings.references_ohm)),
        units(deal(settings.carton, profile, settings.seed)),
        current(the_settings.current),
        hands(loop, [this](const std::string& line, const Answer& answer) { obey(line, answer); }) {
    put_on_bench(1);
    add("", definition, settings.start.dial, settings.rate_hz, settings, settings.start.probes, settings.start.pair);
    for (const SimulatedMeter& meter : settings.more_meters)
      add(meter.name, meter.definition, meter.dial, meter.rate_hz, settings, Probes::on_pair, meter.pair);
    if (!settings.start.position.empty()) {
      if (part().profile().position(settings.start.position) == nullptr)
        throw Error(ErrorKind::usage, "no knob position is called \"" + settings.start.position + "\"",
                    "simulated switch");
      part().turn_knob(0.0, settings.start.position);
    }
    if (!settings.power.on) return;
    try {
      part().set_power(0.0, true);
    } catch (const std::invalid_argument& refusal) {
      throw Error(ErrorKind::usage, refusal.what(), part().profile().id, "leave the power off");
    }
  }

  /// Resistors of their own, joined to nothing of the part.
  static Profile with_references(Profile profile, const std::map<std::string, double>& references_ohm) {
    for (const auto& [name, ohm] : references_ohm) {
      Element resistor;
      resistor.id = name;
      resistor.between = Pair{name + "/1", name + "/2"};
      resistor.nominal_ohm = ohm;
      profile.terminals.insert(profile.terminals.end(), {name + "/1", name + "/2"});
      profile.elements.push_back(resistor);
    }
    return profile;
  }

  /// Cold and at the first position, whatever the one before went through.
  void put_on_bench(int number) {
    SimulatorSettings of_unit = settings;
    if (units.empty()) {
      part_ = std::make_unique<LiveSwitch>(rated, of_unit, now_s());
      return;
    }
    if (number < 1 || number > static_cast<int>(units.size()))
      throw std::invalid_argument("the carton has units 1 to " + std::to_string(units.size()));
    if (part_ && part().powered()) throw std::invalid_argument("the part on the bench is under power");
    const SimulatedUnit& unit = units[static_cast<std::size_t>(number) - 1];
    of_unit.faults.insert(of_unit.faults.end(), unit.faults.begin(), unit.faults.end());
    of_unit.healthy_contact_ohm *= unit.contact_factor;
    of_unit.seed += static_cast<std::uint64_t>(number);
    part_ = std::make_unique<LiveSwitch>(unit.profile ? with_references(*unit.profile, settings.references_ohm) : rated,
                                         of_unit, now_s());
  }

  void add(const std::string& name, const MeterDefinition& definition, Quantity dial, std::optional<double> rate_hz,
           const SimulatorSettings& how, Probes where, const Pair& pair) {
    if (where == Probes::on_pair) check_pair(pair);
    const std::uint64_t seed = how.seed + places.size();
    auto place = std::make_unique<Place>(how, name, where, pair, seed);
    StationSettings station;
    station.rate_hz = rate_hz ? rate_hz : how.rate_hz;
    station.averaging_s = how.power.averaging_s;
    station.link = how.link;
    station.seed = seed;
    station.dial = dial;
    Place* at = place.get();
    place->station = std::make_unique<MeterStation>(
        loop, definition, station,
        [this, at](Quantity quantity, double window_s) {
          part().advance(now_s());
          return at->probes.ideal_value(part(), quantity, window_s);
        },
        [at] { at->acknowledge(); });
    places.push_back(std::move(place));
  }

  void check_pair(const Pair& pair) const {
    const auto known = bench_points(part().profile());
    for (const std::string& end : {pair.first(), pair.second()})
      if (std::find(known.begin(), known.end(), end) == known.end())
        throw Error(ErrorKind::usage, "no terminal is called \"" + end + "\"", "simulated meter",
                    suggestion(end, known));
  }

  LiveSwitch& part() const { return *part_; }

  void put_in(std::vector<Fault> faults) {
    settings.faults = std::move(faults);
    const std::string position = part().position();
    const bool powered = part().powered();
    auto other = std::make_unique<LiveSwitch>(part().profile(), settings, now_s());
    other->turn_knob(now_s(), position);
    if (powered) other->set_power(now_s(), true);
    part_ = std::move(other);
    all_moved();
  }

  double now_s() const { return seconds_between(start, clock.now().monotonic); }

  void obey(const std::string& line, const Answer& answer) {
    const HandsRequest request = read_hands_request(line, part().profile());
    if (!request.message) return answer(refused_line(request.id, request.reason));
    try {
      Place& place = place_of(request.message->meter.value_or(""));
      move(*request.message, place);
      place.waiting.push_back(
          {request.id, place.station->readings_until_fresh(), answer,
           request.message->current && current.has_display ? std::optional{shown_a()} : std::nullopt,
           label_of(*request.message)});
    } catch (const std::invalid_argument& refusal) {
      answer(refused_line(request.id, refusal.what()));
    }
  }

  std::string label_of(const HandsMessage& message) const {
    return message.unit && !units.empty() ? units[static_cast<std::size_t>(*message.unit) - 1].label : std::string{};
  }

  Place& place_of(const std::string& name) const {
    std::vector<std::string> known;
    for (const auto& place : places) {
      if (place->name == name) return *place;
      if (!place->name.empty()) known.push_back(place->name);
    }
    const std::string hint = suggestion(name, known);
    throw std::invalid_argument("no meter is called \"" + name + "\"" + (hint.empty() ? "" : " (" + hint + ")"));
  }

  /// All of the message, or (by throwing) nothing of it.
  void move(const HandsMessage& message, Place& place) {
    const Pair pair = message.pair.value_or(place.probes.pair());
    const Probes where = message.probes.value_or(message.pair ? Probes::on_pair : place.probes.probes());
    if (message.unit) {
      if (units.empty()) throw std::invalid_argument("there is no carton; start with --lot");
      put_on_bench(*message.unit);
      all_moved();
    }
    const bool placed = where != place.probes.probes() || !(pair == place.probes.pair());
    if (where == Probes::on_pair && pair.first().empty()) throw std::invalid_argument("probes on a pair need \"pair\"");
    if (message.dial && place.station->has_dial() && !place.station->measures(*message.dial))
      throw std::invalid_argument("this meter's dial has no \"" + std::string{name_of(*message.dial)} + "\"");
    if (message.current && *message.current != CurrentSwitch::off && (part().powered() || message.power == true))
      throw std::invalid_argument("no current supply may be clipped to a part that is under power");
    if (message.power && *message.power != part().powered()) {
      part().set_power(now_s(), *message.power);
      all_moved();
    }
    if (message.position && *message.position != part().position()) {
      part().turn_knob(now_s(), *message.position);
      all_moved();
    }
    if (placed) place.probes.place(where, pair);
    if (message.current) switch_current(*message.current, message.amps);
    const bool dialled = message.dial && *message.dial != place.station->dial();
    if (dialled) place.station->turn_dial(*message.dial);
    if (placed || dialled) place.station->moved();
  }

  /// The supply is clipped where the first meter's probes are.
  void switch_current(CurrentSwitch to, std::optional<double> amps) {
    if (amps) set_a = *amps;
    const bool on = to != CurrentSwitch::off || (current.stuck_on && was_on);
    was_on = was_on || to != CurrentSwitch::off;
    on_now = on;
    const double given_a = on && to != CurrentSwitch::one_clip && !current.dead ? set_a * current.share : 0.0;
    if (to != CurrentSwitch::off) way = to == CurrentSwitch::reversed ? -1.0 : 1.0;
    places.front()->probes.drive(way * given_a);
    places.front()->station->moved();
  }

  double shown_a() const {
    const ProbePair& probes = places.front()->probes;
    const double flows_a = std::abs(probes.flowing_a(part()));
    return current.shows_set && on_now ? set_a : flows_a;
  }

  void all_moved() {
    for (const auto& place : places) place->station->moved();
  }

  Loop& loop;
  const Clock& clock;
  Monotonic start;
  SimulatorSettings settings;
  Profile rated;
  std::vector<SimulatedUnit> units;
  std::unique_ptr<LiveSwitch> part_;
  SimulatedCurrent current;
  std::vector<std::unique_ptr<Place>> places;
  double set_a = 0.0;  ///< of the current supply
  double way = 1.0;    ///< of its clips
  bool was_on = false;
  bool on_now = false;
  HandsSocket hands;
};

Simulator::Simulator(Loop& loop, const Clock& clock, Profile profile, MeterDefinition meter, SimulatorSettings settings)
    : impl_(std::make_unique<Impl>(loop, clock, profile, meter, settings)) {}

Simulator::~Simulator() = default;

void Simulator::put_in(std::vector<Fault> faults) { impl_->put_in(std::move(faults)); }

const std::string& Simulator::port() const { return impl_->places.front()->station->port(); }

const std::string& Simulator::port(const std::string& meter) const {
  for (const auto& place : impl_->places)
    if (place->name == meter) return place->station->port();
  throw std::out_of_range("no simulated meter is called \"" + meter + "\"");
}

const std::string& Simulator::hands_socket() const { return impl_->hands.path(); }

}  // namespace switchwright
