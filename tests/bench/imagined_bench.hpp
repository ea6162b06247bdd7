// A bench without links for testing the session: hands that obey at once, a meter that reads the profile's own network
// with faults, and a clock that is moved by hand.
#pragma once

#include <cmath>
#include <string>
#include <variant>
#include <vector>

#include "switchwright/bench/session.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/powered.hpp"

namespace switchwright::testing {

class ObedientHands final : public Hands {
 public:
  explicit ObedientHands(bool person) : person_(person) {}
  void arrange(const Arrangement& arrangement, std::function<void()> done, std::function<void(std::string)>) override {
    const std::string knob_at = now.position;
    if (powered && !(arrangement.pair == now.pair) && arrangement.power.value_or(true)) ++live_moves;
    now = arrangement;
    if (now.position.empty()) now.position = knob_at;
    if (arrangement.power) powered = *arrangement.power;
    was_powered = was_powered || powered;
    done();
  }
  bool states_contact() const override { return !person_; }
  bool confirms_itself() const override { return !person_; }
  std::string name() const override { return person_ ? "person" : "fixture"; }

  Arrangement now;
  bool powered = false;
  bool was_powered = false;
  int live_moves = 0;

 private:
  bool person_;
};

struct ImaginedBench {
  explicit ImaginedBench(bool person = false, const std::vector<std::string>& fault_texts = {})
      : profile(load_profile("regulator-shunt-240", {std::string{SOURCE_DIR} + "/profiles"})), hands(person) {
    for (const std::string& fault : fault_texts) faults.push_back(parse_fault(fault, profile));
    meter.id = "imagined";
    // A hand-held's figures: common practice, no source.
    for (const double top : {4e2, 4e3, 4e4, 4e5, 4e6, 4e7})
      meter.accuracy.push_back({Quantity::resistance, top, top / 4000, 0.8, 3});
    meter.accuracy.push_back({Quantity::voltage_ac, 400, 0.1, 1.0, 5});
    meter.accuracy.push_back({Quantity::voltage_dc, 400, 0.1, 1.0, 5});
    header.id = "imagined-1";
    events.subscribe([this](const Event& event, Instant) { log.push_back(event); });
  }

  QualifySession& begin(SessionSettings settings = {}) {
    if (!settings.acknowledged_by) settings.acknowledged_by = "tester";
    if (!settings.inspection && hands.confirms_itself()) settings.inspection = true;  // nobody could be asked
    session.emplace(
        profile, meter, settings, header, clock, hands, [](Quantity) {}, events);
    return *session;
  }

  /// What the probes meet now.
  Reading reading() const {
    Reading r;
    r.quantity = hands.now.dial;
    const Probes probes = probes_left_at.value_or(hands.now.probes);
    r.at = clock.now();
    if (r.quantity != Quantity::resistance) {
      r.resolution = 0.1;
      r.value = probes == Probes::on_known_source ? source_v : probes == Probes::on_pair ? volts_on_part : 0.0;
      if (source_over_range && probes == Probes::on_known_source) r.state = ReadingState::over_range;
      if (hands.powered && hands.now.probes == Probes::on_pair && !touching) r.value = 0.0;
      if (hands.powered && hands.now.probes == Probes::on_pair && touching) {
        const PoweredSwitch live{profile, hands.now.position, {}, faults};
        // A point that floats shows some stray volts.
        r.value = live.volts(hands.now.pair.first(), hands.now.pair.second(), supply_v).value_or(3.0);
        r.value = std::round(r.value * 10.0) / 10.0;
      }
      return r;
    }
    double ohm = std::numeric_limits<double>::infinity();
    if (probes == Probes::shorted) ohm = 0.0;
    if (probes == Probes::on_pair && hands.now.pair.has("EARTH"))
      ohm = bond_ohm;
    else if (probes == Probes::on_pair && touching)
      ohm = network_of(profile, hands.now.position, {}, faults)
                .resistance_ohm(hands.now.pair.first(), hands.now.pair.second());
    r.flags.autorange = true;
    if (ohm + lead_ohm > 4e7) {
      r.state = ReadingState::over_range;
      r.resolution = 1e4;
      return r;
    }
    const AccuracyRow* row = meter.accuracy_for(Quantity::resistance, ohm + lead_ohm, 0.0);
    r.resolution = row->resolution;
    r.value = std::round((ohm + lead_ohm) / r.resolution) * r.resolution;
    return r;
  }

  /// Lets the meter speak five times a second for a while.
  void listen(double seconds) {
    for (int i = 0; i < seconds * 5 && !session->ended(); ++i) {
      clock.advance(std::chrono::milliseconds{200});
      session->on_reading(reading());
      session->on_tick();
    }
  }
  /// Waits until it settles and does what a patient person does: state contact where asked, else confirm.
  void confirm_when_settled() {
    listen(3.0);
    if (session->ended()) return;
    const Settled* settled = last<Settled>();
    settled && settled->needs_contact_statement ? session->state_contact() : session->confirm();
  }

  template <class T>
  const T* last() const {
    for (auto it = log.rbegin(); it != log.rend(); ++it)
      if (const T* found = std::get_if<T>(&*it)) return found;
    return nullptr;
  }
  template <class T>
  std::size_t count() const {
    std::size_t n = 0;
    for (const Event& event : log) n += std::holds_alternative<T>(event);
    return n;
  }
  /// Goes on until the step of this kind (the n-th of them) is shown.
  void run_to(StepKind kind, const std::string& pair = "", const std::string& position = "") {
    for (int i = 0; i < 1000 && !session->ended(); ++i) {
      const Step* step = session->current();
      if (step->kind == kind && (pair.empty() || step->arrangement.pair.text() == pair) &&
          (position.empty() || step->arrangement.position == position))
        return;
      if (step->kind == StepKind::inspect)
        session->answer(true);
      else
        confirm_when_settled();
    }
  }
  void run_to_end() {
    for (int i = 0; i < 1000 && !session->ended(); ++i) {
      if (session->current()->kind == StepKind::inspect)
        session->answer(true);
      else
        confirm_when_settled();
    }
  }

  Profile profile;
  MeterDefinition meter;
  std::vector<Fault> faults;
  ObedientHands hands;
  ManualClock clock;
  RecordHeader header;
  EventStream events;
  std::vector<Event> log;
  std::optional<QualifySession> session;
  double source_v = 24.0;
  bool source_over_range = false;
  double lead_ohm = 0.1;
  std::optional<Probes> probes_left_at;  ///< the person has not moved them yet
  double volts_on_part = 0.0;
  double supply_v = 240.0;
  bool touching = true;
  double bond_ohm = 0.05;
};

}  // namespace switchwright::testing
