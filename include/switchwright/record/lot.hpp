// A lot of parts, as it is kept: one record of kind "lot" whose chain holds what was ordered and planned, then one row for
// everything that happened to a unit, each bench check, and the decision. Rows are only ever added: a unit that was tested
// again, replaced or lost has one more row and keeps those it had.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"

namespace switchwright {

/// The plan of one defect class. A unit counts in the worst class that it shows a defect of (MIL-STD-105E 2.1).
struct LotClassPlan {
  std::string severity;     ///< "critical", "major", "minor"
  double aql = 0.0;         ///< percent; 0: none was given
  std::string code_letter;  ///< of the plan after the arrows; may be empty
  int sample_size = 0;
  int accept = 0;
  int reject = 1;
};

/// A resistor of known value that the bench is checked with before each shift.
struct ReferenceResistor {
  std::string name;
  double ohm = 0.0;
  double U_ohm = 0.0;  ///< expanded (k = 2), from its certificate
};

/// What a lot begins with; the part, the profile and the meter stand in the record's header.
struct LotOpening {
  std::string supplier;
  std::string order;
  std::string lot_number;
  int size = 0;
  std::string condition = "new";  ///< "new": never connected to a supply; "pulled": was in use
  std::string level = "II";
  std::string mode = "normal";     ///< "normal", "tightened", "reduced"
  std::string mode_reason;         ///< why this mode
  std::string drawing = "random";  ///< or "systematic"
  std::int64_t seed = 0;
  int full_every = 10;  ///< every so many units the full plan; 0: never
  std::vector<LotClassPlan> classes;
  std::vector<int> units;  ///< numbers in the carton, from 1, in the order in which they are tested
  std::vector<ReferenceResistor> references;
  /// Other versions of the part that may be in the carton: profile ids.
  std::vector<std::string> versions;
  /// MIL-STD-105E Table VIII as agreed with the supplier, whose production is steady; absent: never reduced inspection.
  std::optional<long> reduced_limit;
  std::string resubmits;          ///< id of the lot that was not accepted and comes again; empty: an original lot
  std::string resubmitted_words;  ///< what was done to its units since
  /// What the supplier put right after acceptance was discontinued; empty: it was not.
  std::string corrective_action;
};

/// Something that happened to a unit. These words are on disk: do not change them.
///   begun      a record was begun; nothing is decided yet
///   tested     the record ended with a verdict
///   lost       the unit cannot be had any more: it stays undecided
///   replaced   from now on another unit of the carton stands in this place of the sample
struct LotUnitRow {
  int place = 0;  ///< in the sample, from 1, in the order of LotOpening::units
  int unit = 0;   ///< number in the carton
  std::string what;
  std::string serial;
  std::string record;       ///< id
  std::string record_head;  ///< SHA-256 of that record's last link, with "tested"
  std::string plan;         ///< "short", "full"
  std::string outcome;      ///< with "tested": "pass", "fail", "undecided"
  std::string severity;     ///< with "fail": "critical", "major", "minor"
  std::string text;         ///< headline of the verdict; reason for lost, replaced, retested
  bool retest = false;      ///< the unit was decided before and somebody wanted it tested again
  double work_s = 0.0;      ///< from the first instruction to the verdict
  std::string operator_name;
  Wall at{};
};

/// One reference resistor read with the meter and the leads of the bench.
struct BenchCheckRow {
  std::string reference;
  double ohm = 0.0;
  double U_ohm = 0.0;
  std::optional<double> read_ohm;  ///< without the leads; absent: over-range
  double limit_ohm = 0.0;          ///< by so much the reading may differ
  bool in = false;
  std::string record;  ///< of the readings
  std::string operator_name;
  Wall at{};
};

/// These words are on disk: do not change them.
struct LotDecisionRow {
  std::string decision;  ///< "accept", "reject", "hold"
  std::string reason;
  std::string operator_name;
  Wall at{};
};

}  // namespace switchwright
