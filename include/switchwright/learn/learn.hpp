// From the readings of a known-good part at every position and pair to the smallest network that explains them: which
// pairs of terminals contacts join at which positions, and which resistors lie where. What the readings cannot decide is
// said, never guessed in silence.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/pair.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct LearnSubject {
  std::string title;
  std::string knob = "knob";
  std::vector<std::string> terminals;
  std::vector<std::string> exposed_metal;
  std::vector<std::string> positions;
  Limits limits;                    ///< a reading of at most closed_max_ohm counts as joined
  double beyond_ohm = 1e7;          ///< the end of the meter's ranges: above, it shows over-range
  std::optional<double> voltage_v;  ///< as stamped on the part
  std::optional<double> current_a;
};
/// A profile with the subject's terminals and positions and nothing in it: every pair is to be measured everywhere.
Profile provisional_profile(const LearnSubject& subject);

/// The same as TOML, for the record of the readings.
std::string provisional_toml(const LearnSubject& subject);

struct LearnReading {
  std::string position;
  Pair pair;
  std::optional<double> ohm;  ///< leads subtracted; absent: over-range
  double U_ohm = 0.0;
};

struct Learned {
  std::vector<Contact> contacts;
  std::vector<Element> elements;          ///< nominal_ohm as fitted; tolerance wide enough for the meter
  bool fewest_contacts = false;           ///< proven: no fewer contacts join what is joined
  std::vector<std::string> ambiguities;   ///< what the readings leave open, one plain sentence each
  std::vector<std::string> unconnected;   ///< terminals that read open to everything at every position
  std::vector<LearnReading> unexplained;  ///< readings that the network does not give
};
/// @throws Error(usage) when a pair has no reading at a position, or an unknown name.
Learned learn(const LearnSubject& subject, const std::vector<LearnReading>& readings);

/// The profile as a commented TOML file, to be reviewed. @param date such as 2026-03-01, @param by meter and operator.
std::string learned_toml(const LearnSubject& subject, const std::vector<LearnReading>& readings, const Learned& learned,
                         const std::string& date, const std::string& by);
/// Readings that lie outside what a profile expects, widened by their uncertainty.
std::vector<LearnReading> outside_of(const Profile& profile, const std::vector<LearnReading>& readings,
                                     double beyond_ohm);

}  // namespace switchwright
