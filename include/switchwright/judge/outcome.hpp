// The three answers of a judgement (the verdict words of JCGM 106 with its conditional zones), and how several of them
// add up.
#pragma once

#include <string>

namespace switchwright {

enum class Outcome { pass, fail, undecided };
std::string to_string(Outcome outcome);  ///< "pass", "fail", "undecided"

/// Decision rules of JCGM 106: simple acceptance (no guard band), or guarded (guard band U on both sides:
/// only what is outside the limit by more than U fails, only what is inside by more than U passes).
enum class DecisionRule { simple, guarded };
std::string to_string(DecisionRule rule);
/// "simple"; whatever else stands there is guarded, the one that passes less.
DecisionRule decision_rule(const std::string& word);
/// The guard band that a rule keeps for an expanded uncertainty.
constexpr double guard_band(DecisionRule rule, double U) { return rule == DecisionRule::guarded ? U : 0.0; }

/// Of two outcomes about one part the one that is worse for it: fail, then undecided, then pass.
constexpr Outcome worse(Outcome a, Outcome b) {
  if (a == Outcome::fail || b == Outcome::fail) return Outcome::fail;
  return a == Outcome::undecided || b == Outcome::undecided ? Outcome::undecided : Outcome::pass;
}

}  // namespace switchwright
