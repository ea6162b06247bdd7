// What a serial meter cannot measure and the trade needs (insulation at 500 V, withstand to metal, earth bond, temperature
// rise after soak, tab pull) is entered as somebody states it: the value with its unit, the instrument and its due date.
// The limit comes from the profile, the decision is that of every reading (JCGM 106), and a record always marks such a
// result as stated.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/judge/outcome.hpp"
#include "switchwright/judge/scope.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// One statement; plain data for records.
struct StatedResult {
  std::string id;           ///< of the profile's [[stated]]
  double value = 0.0;       ///< SI unit of the quantity
  std::string beyond;       ///< ">" or "<": the instrument showed only that it is more, or less, than `value`
  std::optional<double> U;  ///< expanded, SI unit; absent: not stated
  std::string instrument;   ///< which one; may be empty
  std::string due;          ///< YYYY-MM-DD, when its calibration is due; may be empty
  std::string text;         ///< as it was written
  Wall at{};                ///< when it was entered
  friend bool operator==(const StatedResult&, const StatedResult&) = default;
};

/// Reads "ID=VALUE UNIT, U=VALUE UNIT or PERCENT%, instrument=TEXT, due=YYYY-MM-DD"; the first is needed, the others in
/// any order. ">999 Mohm" says that the instrument showed no more than that. @throws Error(usage) for an id that the
/// profile does not have, a value or unit that cannot be, an impossible date.
StatedResult parse_stated(const std::string& text, const Profile& profile);
/// The value alone, for somebody who is asked: "500 Mohm". @throws Error(usage).
void parse_stated_value(const std::string& text, const StatedRequirement& wanted, StatedResult& into);
void parse_stated_U(const std::string& text, const StatedRequirement& wanted, StatedResult& into);
void parse_stated_due(const std::string& text, StatedResult& into);

/// A requirement with what was stated for it, judged.
struct StatedFinding {
  StatedRequirement wanted;
  std::optional<StatedResult> result;  ///< absent: required and not stated
  std::optional<double> U;             ///< expanded, as used; absent: not known
  Outcome outcome = Outcome::undecided;
  std::string sentence;
};

/// Every statement is judged, the several of one requirement (a pull at each tab) each by itself, and every requirement
/// that is `required` and has none is undecided. An instrument that is overdue on the day of the statement, not named or
/// without due date, or a value without uncertainty, passes nothing; what breaks its limit fails all the same.
/// @param started of the record; a statement without a time of its own counts as of then
std::vector<StatedFinding> judge_stated(const Profile& profile, const std::vector<StatedResult>& results, Wall started,
                                        DecisionRule rule);

ScopeItem stated_item(const std::vector<StatedFinding>& findings);

}  // namespace switchwright
