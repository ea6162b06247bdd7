// Made-up records of the shipped 240 V regulator, measured on a made-up meter: a good part, a faulty one, one
// left unfinished. The readings come from the profile's own network with small lead and contact resistances
// added; the verdict from the same judge that the bench uses.
#pragma once

#include <string>
#include <vector>

#include "switchwright/profile/fault.hpp"
#include "switchwright/record/store.hpp"

namespace made_up {

struct Choices {
  std::vector<std::string> faults;  ///< "stuck-closed:cycling", ...
  bool finished = true;
  bool simulated = false;
  std::string operator_name = "Bench Operator";
  std::string part = "made-up regulator 240 V";
  std::string calibrated = "2025-11-14";
  bool one_skipped = false;      ///< the last pair is skipped at the last position
  bool one_unwitnessed = false;  ///< nobody states that the probes touched the case
};

/// Writes the record into the store and returns its id.
std::string write(switchwright::Store& store, const Choices& choices);
/// The same, loaded again with every reading.
switchwright::Record record(const Choices& choices);

}  // namespace made_up
