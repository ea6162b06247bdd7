// A carton of simulated parts: which of them have which fault, which are another version, and how their values spread. The
// same seed deals the same carton; the counts are exact, so that a test knows what must be found.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

struct SimulatedCarton {
  struct Faulty {
    std::string name;  ///< as written
    std::vector<Fault> faults;
    double share = 0.0;  ///< of the units, 0 to 1
  };
  struct Version {
    Profile profile;  ///< with the terminals and positions of the carton's part
    double share = 0.0;
  };
  int size = 0;  ///< 0: there is no carton
  std::vector<Faulty> faulty;
  std::vector<Version> versions;
  double spread = 0.0;            ///< standard deviation of elements and contact resistances, as a share
  std::map<int, int> same_label;  ///< unit: the unit whose label it has too
};

struct SimulatedUnit {
  const Profile* profile = nullptr;  ///< of the version; null: of the carton's part
  std::vector<Fault> faults;
  double contact_factor = 1.0;
  std::string label;
  std::string what;  ///< "good", a fault as written, "profile:ID"
};

/// Every unit, first to last. @throws Error(usage) when the shares are more than the carton holds.
std::vector<SimulatedUnit> deal(const SimulatedCarton& carton, const Profile& part, std::uint64_t seed);

}  // namespace switchwright
