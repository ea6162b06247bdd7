// Which pairs, wrongly joined, could put the supply on the load or on exposed metal.
//
// With a [powered] part the question is put to the circuit: the pair is joined in thought, and it counts when
// a point that floated is then joined to the supply, or a load that was dead is then live. (Lamps are left
// out: what is live through a lamp alone is not the load.)
//
// Without one, what is known is this: a pair that contacts join at some position and not at this one is held
// apart here on purpose, so joining it would feed something that should be dead. That errs on the safe side:
// a pair such as H1-P of a regulator at off, whose two ends are dead, counts too.
//
// Exposed metal must never be joined to anything, with or without.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "switchwright/profile/network.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

class LivePairs {
 public:
  explicit LivePairs(const Profile& profile);
  /// For a pair that nothing should join at this position.
  bool could_make_live(const std::string& position, const Pair& pair) const;

 private:
  const Profile* profile_;
  bool joined_elsewhere(const std::string& position, const Pair& pair) const;
  bool energises(const std::string& position, const Pair& pair) const;

  std::map<std::string, Network> contacts_at_;  ///< by position: closed contacts alone
};

}  // namespace switchwright
