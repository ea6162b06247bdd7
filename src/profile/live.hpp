// Which pairs, wrongly joined, could put the supply on the load or on exposed metal.
//
// The profile need not say where the supply is. What is known without it: a pair that contacts join at some
// position and not at this one is held apart here on purpose, so joining it would feed something that should
// be dead; and exposed metal must never be joined to anything that is not bonded to it. Both err on the safe
// side: a pair such as H1-P of a regulator at off, whose two ends are dead, counts too.
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
  std::map<std::string, Network> contacts_at_;  ///< by position: closed contacts alone
};

}  // namespace switchwright
