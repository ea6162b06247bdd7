// What could explain a set of readings: the part is good, something in it is wrong (one or two things), or it
// is another part. Generated from the network, so that no list of faults has to be written by hand.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class CauseKind {
  fault,          ///< one of profile/fault.hpp
  other_profile,  ///< the part is another one of the library
};

/// One thing that is wrong.
struct Cause {
  CauseKind kind = CauseKind::fault;
  Fault fault;          ///< for kind fault; a value that is to be fitted is absent
  std::string profile;  ///< for other_profile: its id
  friend bool operator==(const Cause&, const Cause&) = default;
};
/// "stuck-closed:cycling", "resistive:line=5.2", "bridged:H1,H2", "tied:line,cycling",
/// "profile:regulator-shunt-208".
std::string to_string(const Cause& cause);
/// The kind alone, as in the file of priors: "stuck-closed".
std::string kind_of(const Cause& cause);
/// For a person: "contact cycling stays closed", "terminals L1 and L2 are swapped".
std::string in_words(const Cause& cause);

/// All that is wrong at once; no cause means that the part is good.
struct Hypothesis {
  std::vector<Cause> causes;
  double prior = 0.0;  ///< relative weight, before any reading
  bool good() const { return causes.empty(); }
};
/// "none", or the causes joined with " + ".
std::string to_string(const Hypothesis& hypothesis);
std::string in_words(const Hypothesis& hypothesis);

/// How likely things are before anything is measured; from a TOML file that says for each figure where it is
/// from.
struct FaultPriors {
  double good = 0.5;  ///< the part is good
  /// By kind word ("stuck-closed"): chance per contact, element, pair, ... Their ratios count: the odds p / (1 - p) of
  /// all are scaled alike until a part is good as often as `good` says.
  std::map<std::string, double> per_part;
  double stray_reading = 1e-3;                 ///< a settled reading that has nothing to do with the part
  double untouched = 0.05;                     ///< an over-range reading without witness: a probe did not touch
  std::map<std::string, std::string> sources;  ///< by the key of the figure: "common practice" or "invented"
  std::filesystem::path path;
};
/// @throws Error(usage) with every mistake of the file at once.
FaultPriors load_fault_priors(const std::filesystem::path& path);
/// Parses TOML text; `path` is used in messages.
FaultPriors parse_fault_priors(const std::string& toml, const std::filesystem::path& path);

/// The hypotheses for a part: good; every single cause; with `doubles` every pair of causes that are not
/// about the same thing; and the profiles in `others` that have the same nodes and positions. Weights as
/// independence says: with o_i the odds of cause i (see FaultPriors), good weighs g, one cause g o_i, two
/// causes g o_i o_j.
std::vector<Hypothesis> hypotheses(const Profile& profile, const std::vector<Profile>& others,
                                   const FaultPriors& priors, bool doubles = true);

}  // namespace switchwright
