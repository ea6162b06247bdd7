// A random switch and a random meter for the blind tests. The switch is solved by the profile
// room's nodal analysis, not by the predictor under test; the meter has one gain and one offset error for all
// its readings, as a real one does, noise of half a digit, ranges and digits.
#pragma once

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "explain/predictor.hpp"
#include "judge/parts.hpp"
#include "switchwright/explain/explain.hpp"
#include "switchwright/explain/hypothesis.hpp"

namespace simulated {

using namespace switchwright;

/// How the values that a fault leaves open are drawn.
struct Draw {
  double least_bad_ohm = 4.0;   ///< a bad contact: from twice the closed limit of 2 ohm ...
  double most_bad_ohm = 126e3;  ///< ... to what a burnt contact may have, evenly over the decades
  double least_drift_pct =
      20.0;  ///< a drifted element: so far beyond its band (a small coil that is nearer lies within U)
  double most_drift_pct = 80.0;
};

/// The profile and faults that make a switch with these causes; values that are absent are drawn. Each sound contact has
/// a value of its own from zero to what is sound; in every second switch it is another one with every closing, and a bad
/// contact then varies by a tenth.
struct Switch {
  Profile profile;
  std::vector<Fault> faults;
  std::vector<Fault> sound;  ///< the values of the sound contacts
  double joint_ohm = 0.02;   ///< of a bridge
  bool varies = false;
  mutable std::mt19937_64 closings;

  Switch(const Profile& good, const std::vector<Profile>& others, const std::vector<Cause>& causes,
         std::mt19937_64& random, const Draw& draw = {})
      : profile(good) {
    std::uniform_real_distribution<double> unit(0.0, 1.0);
    for (const Cause& cause : causes) {
      if (cause.kind == CauseKind::other_profile)
        for (const Profile& other : others)
          if (other.id == cause.profile) profile = other;
      if (cause.kind == CauseKind::fault) {
        Fault fault = cause.fault;
        if (fault.kind == FaultKind::resistive) fault.value = bad_contact_ohm(fault.id, draw, unit(random));
        if (fault.kind == FaultKind::drifted) {
          const double beyond = draw.least_drift_pct + (draw.most_drift_pct - draw.least_drift_pct) * unit(random);
          const double tolerance = tolerance_of(fault.id);
          fault.value = unit(random) < 0.5 ? std::max(-tolerance - beyond, -90.0) : tolerance + beyond;
        }
        faults.push_back(fault);
      }
    }
    for (const Element& element : profile.elements) {
      bool wrong = false;
      for (const Fault& fault : faults) wrong |= fault.id == element.id;
      if (!wrong)
        faults.push_back(
            {FaultKind::drifted, element.id, {}, element.tolerance_pct * 0.95 * (2.0 * unit(random) - 1.0)});
    }
    for (const Contact& contact : profile.contacts)
      sound.push_back({FaultKind::resistive, contact.id, {}, most_sound_ohm(profile, contact) * unit(random)});
    joint_ohm = most_joint_ohm * unit(random);
    varies = unit(random) < 0.5;
    closings.seed(random());
  }
  double ohm(const Place& place) const {
    PartValues values;
    values.closed_contact_ohm = joint_ohm;
    std::vector<Fault> all = sound, wrong = faults;  // of two values for one contact the later one counts
    if (varies) {
      std::uniform_real_distribution<double> unit(0.0, 1.0);
      for (std::size_t i = 0; i < all.size(); ++i)
        all[i].value = most_sound_ohm(profile, profile.contacts[i]) * unit(closings);
      values.closed_contact_ohm = most_joint_ohm * unit(closings);
      for (Fault& fault : wrong)
        if (fault.kind == FaultKind::resistive) *fault.value *= 0.9 + 0.2 * unit(closings);
    }
    all.insert(all.end(), wrong.begin(), wrong.end());
    return network_of(profile, place.position, values, all).resistance_ohm(place.pair.first(), place.pair.second());
  }
  /// Never so little that it would be sound.
  double bad_contact_ohm(const std::string& id, const Draw& draw, double share) const {
    double least = draw.least_bad_ohm;
    for (const Contact& contact : profile.contacts)
      if (contact.id == id) least = std::max(least, most_sound_ohm(profile, contact));
    return least * std::pow(std::max(draw.most_bad_ohm / least, 2.0), share);
  }
  double tolerance_of(const std::string& id) const {
    for (const Element& e : profile.elements)
      if (e.id == id) return e.tolerance_pct;
    return 0.0;
  }
};

class Meter {
 public:
  Meter(MeterDefinition definition, std::mt19937_64& random) : definition_(std::move(definition)), random_(&random) {
    std::uniform_real_distribution<double> error(-1.0, 1.0);
    gain_ = error(random);
    offset_ = error(random);
  }
  Indication read(double ohm) {
    std::uniform_real_distribution<double> noise(-0.5, 0.5);
    for (const AccuracyRow& row : definition_.accuracy) {
      if (row.quantity != Quantity::resistance || ohm + lead_ohm_ > row.full_scale) continue;
      double x = (ohm + lead_ohm_) * (1.0 + gain_ * row.percent_of_reading / 100.0);
      x += (offset_ * row.digits + noise(*random_)) * row.resolution;
      return parts::reads(std::round(x / row.resolution) * row.resolution, row.resolution);
    }
    return parts::over_range();
  }
  Leads leads() {
    Leads leads;
    leads.before = read(0.0);
    leads.after = read(0.0);
    return leads;
  }

 private:
  MeterDefinition definition_;
  std::mt19937_64* random_;
  double gain_ = 0.0, offset_ = 0.0, lead_ohm_ = 0.2;
};

inline std::vector<Place> places_of(const std::vector<Expectation>& expected) {
  std::vector<Place> places;
  for (const Expectation& e : expected)
    if (e.state != PairState::not_checked) places.push_back({e.position, e.pair});
  return places;
}

/// Every place measured and judged, contact stated as a fixture would.
inline std::vector<Finding> measure(const Switch& part, Meter& meter, const MeterDefinition& definition,
                                    const Profile& profile, const std::vector<Expectation>& expected,
                                    const Leads& leads) {
  std::vector<Finding> findings;
  for (const Expectation& e : expected) {
    if (e.state == PairState::not_checked) continue;
    const Indication i = meter.read(part.ohm({e.position, e.pair}));
    const Witness witness = i.state == ReadingState::finite ? Witness::not_needed : Witness::stated;
    findings.push_back(judge(e, i, witness, profile, definition, leads, {}));
  }
  return findings;
}

/// A hypothesis without its fitted values: what kind of fault, of which part.
inline std::string label(Hypothesis h) {
  for (Cause& cause : h.causes)
    if (cause.fault.kind == FaultKind::resistive || cause.fault.kind == FaultKind::drifted) cause.fault.value.reset();
  return to_string(h);
}

}  // namespace simulated
