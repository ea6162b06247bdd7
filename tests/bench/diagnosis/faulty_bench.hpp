// A faulty switch on the simulator's bench: its own switch, probes and meter (src/sim), read directly instead
// of over a line, so that thousands of switches are measured in minutes. What is drawn at random: the values
// that a fault leaves open, the contacts' resistance within what is sound, the elements within their
// tolerance, the meter's errors.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <random>
#include <string>
#include <vector>

#include "sim/live_switch.hpp"
#include "sim/meter_model.hpp"
#include "sim/probes.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/explain/coverage.hpp"
#include "switchwright/explain/explain.hpp"
#include "switchwright/judge/judge.hpp"

namespace faulty_bench {

using namespace switchwright;

inline const std::filesystem::path shipped_profiles = std::filesystem::path(SOURCE_DIR) / "profiles";

/// What everybody at this bench knows.
struct Knowing {
  std::vector<Profile> library;
  FaultPriors priors;
  MeterDefinition meter;  ///< hand-held, four thousand counts
};
inline Knowing what_is_known() {
  Knowing knowing;
  for (const std::string& id : list_profiles({shipped_profiles}))
    knowing.library.push_back(load_profile(id, {shipped_profiles}));
  knowing.priors = load_fault_priors(shipped_profiles / "priors/faults.toml");
  knowing.meter = load_meter_definition("text-14", {{std::filesystem::path(SOURCE_DIR) / "meters"}});
  return knowing;
}

/// The causes as faults of one concrete switch, and the profile that it is really built to.
struct Drawn {
  Profile profile;
  std::vector<Fault> faults;
  double contact_ohm = 0.0;
};

inline Drawn drawn(const Profile& good, const std::vector<Profile>& library, const std::vector<Cause>& causes,
                   std::mt19937_64& random) {
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  Drawn part{good, {}, good.limits.sound_max_ohm * unit(random)};
  for (const Cause& cause : causes) {
    if (cause.kind == CauseKind::other_profile) {
      for (const Profile& other : library)
        if (other.id == cause.profile) part.profile = other;
      continue;
    }
    Fault fault = cause.fault;
    // From twice the closed limit of 2 ohm to what a burnt contact may have, evenly over the decades.
    if (fault.kind == FaultKind::resistive)
      fault.value = std::pow(10.0, std::log10(4.0) + 4.5 * unit(random));
    if (fault.kind == FaultKind::drifted) {
      double tolerance = 0.0;
      for (const Element& element : good.elements)
        if (element.id == fault.id) tolerance = element.tolerance_pct;
      // Nearer to its band than 20 % a small coil lies within the meter's own U of it.
      fault.value = unit(random) < 0.5 ? -tolerance - 20.0 - 30.0 * unit(random)
                                       : tolerance + 20.0 + 60.0 * unit(random);
    }
    part.faults.push_back(fault);
  }
  for (const Element& element : part.profile.elements) {
    const bool wrong = std::any_of(part.faults.begin(), part.faults.end(),
                                   [&](const Fault& fault) { return fault.id == element.id; });
    if (!wrong)
      part.faults.push_back(
          {FaultKind::drifted, element.id, {}, element.tolerance_pct * 0.95 * (2.0 * unit(random) - 1.0)});
  }
  return part;
}

/// One switch under one meter.
class Bench {
 public:
  Bench(const Drawn& part, const MeterDefinition& meter, std::uint64_t seed)
      : settings_(settings_of(part, seed)),
        switch_(part.profile, settings_, 0.0),
        probes_(settings_, Probes::shorted, {}, seed),
        meter_(meter, seed) {}

  Leads leads() {
    probes_.place(Probes::shorted, {});
    Leads leads;
    leads.before = indication();
    leads.after = indication();
    return leads;
  }
  Indication read(const Place& place) {
    if (switch_.position() != place.position) switch_.turn_knob(0.0, place.position);
    probes_.place(Probes::on_pair, place.pair);
    return indication();
  }

 private:
  static SimulatorSettings settings_of(const Drawn& part, std::uint64_t seed) {
    SimulatorSettings settings;
    settings.faults = part.faults;
    settings.healthy_contact_ohm = part.contact_ohm;
    settings.seed = seed;
    return settings;
  }
  /// Three readings in a row, as the settling rule takes them.
  Indication indication() {
    const double ohm = probes_.ideal_value(switch_, Quantity::resistance, 0.0);
    Indication i;
    double sum = 0.0;
    for (i.readings = 0; i.readings < 3; ++i.readings) {
      const sim::Display display = meter_.convert(Quantity::resistance, ohm);
      i.flags.autorange = display.autorange;
      i.resolution = display.resolution;
      i.state = display.state;
      sum += display.value();
    }
    i.value = i.state == ReadingState::finite ? sum / i.readings : 0.0;
    return i;
  }

  SimulatorSettings settings_;
  sim::LiveSwitch switch_;
  sim::ProbePair probes_;
  sim::MeterModel meter_;
};

/// Contact taken as stated where nothing conducts, as a fixture would state it.
inline Finding finding_at(const Expectation& expected, Bench& bench, const Profile& profile,
                          const MeterDefinition& meter, const Leads& leads) {
  const Indication i = bench.read({expected.position, expected.pair});
  const Witness witness = i.state == ReadingState::finite ? Witness::not_needed : Witness::stated;
  return judge(expected, i, witness, profile, meter, leads, {});
}

/// The full plan.
inline std::vector<Finding> measured(const Profile& profile, Bench& bench, const MeterDefinition& meter,
                                     const Leads& leads) {
  std::vector<Finding> findings;
  for (const Expectation& expected : expectations(profile))
    if (expected.state != PairState::not_checked)
      findings.push_back(finding_at(expected, bench, profile, meter, leads));
  return findings;
}

/// A hypothesis without its fitted values: what kind of fault, of which part.
inline std::string name_of(Hypothesis hypothesis) {
  for (Cause& cause : hypothesis.causes)
    if (cause.fault.kind == FaultKind::resistive || cause.fault.kind == FaultKind::drifted)
      cause.fault.value.reset();
  return to_string(hypothesis);
}

}  // namespace faulty_bench
