// What a verdict says about the cause: the explanation of the readings, boiled down to plain data that a
// record keeps.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "switchwright/explain/explain.hpp"

namespace switchwright {

/// What is known before anything is measured.
struct Knowledge {
  std::vector<Profile> others;  ///< the other profiles of the library: the part may be one of them
  FaultPriors priors;
};

/// Loads every profile of the library that can be read (one that cannot is no reason to stop), and the priors
/// from priors/faults.toml in the first directory that has one.
/// @throws Error(usage) when the priors have mistakes, or when there are none.
Knowledge load_knowledge(const std::vector<std::filesystem::path>& profile_directories);

/// Every place of the profile that is to be checked and has no finding yet.
std::vector<Place> unmeasured_places(const std::vector<Expectation>& expected, const std::vector<Finding>& findings);

/// Plain data out of a diagnosis.
DiagnosisSummary summary_of(const Diagnosis& diagnosis);

/// A line for a person; what belongs to a line of level 0 follows it at level 1.
struct ToldLine {
  int level = 0;
  std::string text;
};
/// "98.3 %: contact cycling stays closed (stuck-closed:cycling)", what it means, what to do, what the
/// readings cannot tell it from; the reading to take next; at last what all this assumes. Explanations after the first `most` are
/// counted, not told.
std::vector<ToldLine> told(const DiagnosisSummary& diagnosis, std::size_t most = 5);
/// What nobody needs at the bench, for the end of a report: what each explanation would hide, and how much the next reading is
/// expected to tell.
std::vector<std::string> told_further(const DiagnosisSummary& diagnosis, std::size_t most = 5);
/// "98.3 %", "over 99.9 %", "under 0.1 %".
std::string percent_text(double probability);

/// Explains a verdict that is not a pass and has findings; a pass gets no explanation. What was not measured
/// can still be measured, so it is what the next reading is chosen from.
void add_diagnosis(Verdict& verdict, const Profile& profile, const Knowledge& knowledge, const MeterDefinition& meter,
                   const Leads& leads, double k);

}  // namespace switchwright
