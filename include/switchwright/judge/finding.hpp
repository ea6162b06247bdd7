// What a reading says about a part: pass, fail or undecided, why, and how bad.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/indication.hpp"
#include "switchwright/judge/outcome.hpp"
#include "switchwright/judge/scope.hpp"
#include "switchwright/judge/stated.hpp"
#include "switchwright/judge/uncertainty.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/powered.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

enum class DeviationKind {
  stays_open,
  stays_closed,
  high_resistance,
  leaks,
  out_of_band,
  dead,
  live,
  low_voltage,
  inspection,
};
std::string to_string(DeviationKind kind);  ///< "stays-open", ...

/// Whether an open reading proves anything.
enum class Witness {
  not_needed,  ///< a finite reading is its own witness
  witnessed,   ///< another position gave a finite reading with the probes left in place
  stated,      ///< the operator (or the fixture) stated contact
  missing,     ///< neither
};
std::string to_string(Witness witness);

/// One of several times the knob came to a place.
struct Visit {
  Indication indication;
  std::optional<double> corrected;  ///< value with leads subtracted, SI unit; absent for over-range
  Outcome outcome = Outcome::undecided;
};

/// One measured pair at one position, judged; where it was read at several visits, the worst of them.
struct Finding {
  Expectation expected;
  Indication indication;
  std::optional<double> corrected;          ///< value with leads subtracted, SI unit; absent for over-range
  std::optional<double> U;                  ///< expanded uncertainty, SI unit; absent for over-range
  Outcome outcome = Outcome::undecided;     ///< of the reading as a whole: a contact that is not sound fails
  Outcome continuity = Outcome::undecided;  ///< by the limits for closed, open and elements alone
  std::optional<Outcome> sound;             ///< closed pairs only; undecided also when the meter cannot resolve it
  std::optional<DeviationKind> kind;        ///< set when outcome is fail
  std::optional<Severity> severity;         ///< with kind
  Witness witness = Witness::not_needed;
  /// Probability that the pair is within its limits, given this reading alone (JCGM 106 clause 7, normal with
  /// u = U/k); absent for over-range and where the accuracy is not specified.
  std::optional<double> p_conform;
  std::vector<Visit> visits;  ///< every reading that stands, in order; empty when there is but one
  std::string sentence;       ///< one plain sentence for a person
};

/// One measured voltage under power, judged.
struct VoltageFinding {
  VoltageExpectation expected;
  Indication indication;
  std::optional<double> volts;  ///< magnitude, V; absent for over-range
  std::optional<double> U;      ///< expanded uncertainty, V; absent for over-range
  Outcome outcome = Outcome::undecided;
  std::optional<DeviationKind> kind;  ///< set when outcome is fail
  std::optional<Severity> severity;   ///< with kind
  std::string sentence;               ///< one plain sentence for a person
};

/// A visual inspection question with its answer.
struct InspectionFinding {
  InspectionQuestion question;
  std::optional<bool> answer;  ///< absent: not answered
  std::string note;
};

/// One place where the two probes and the knob can stand.
struct Place {
  std::string position;
  Pair pair;
  friend bool operator==(const Place&, const Place&) = default;
};

/// One fault, or two, that would explain the readings; plain data for records, views and reports.
struct ExplainedFault {
  std::string fault;  ///< "stuck-closed:cycling", causes joined with " + ", "none"
  std::string words;  ///< the same for a person
  double probability = 0.0;
  std::vector<std::string> same_readings_as;  ///< faults that these readings cannot tell from this one
  std::vector<std::string> hides;             ///< faults that may be there as well without showing
  std::vector<Consequence> consequences;      ///< what it means and what to do, where the profile says so
};

/// What would explain the readings of a part that did not pass; see explain/explain.hpp.
struct DiagnosisSummary {
  std::vector<ExplainedFault> explanations;  ///< most probable first
  std::optional<Place> next;                 ///< the further reading that is expected to tell most
  double next_bits = 0.0;                    ///< how much it is expected to tell, in bits
  std::string sentence;
  std::string assumed;  ///< what the answer rests on beside the readings, and what becomes of it if that is far off
};

struct Verdict {
  Outcome outcome = Outcome::undecided;  ///< follows from scope and required: conclude(Verdict&)
  Scope scope;
  ScopeParts required;            ///< what the operator wants decided, come what may
  std::vector<Finding> findings;  ///< in measuring order, one per (position, pair), the last attempt
  std::vector<InspectionFinding> inspection;
  std::vector<StatedFinding> stated;          ///< results of other instruments, as somebody entered them
  std::vector<Expectation> not_measured;      ///< skipped or never reached
  std::string plan;                           ///< "short", "adaptive"; empty: the full plan
  std::vector<Expectation> left_out;          ///< the plan does without; does not make the verdict undecided
  std::optional<DiagnosisSummary> diagnosis;  ///< absent for a pass
  // Under power; all empty when that part was not asked for.
  std::vector<VoltageFinding> voltages;  ///< in measuring order, one per (position, pair), the last attempt
  std::vector<VoltageExpectation> voltages_not_measured;
  std::vector<VoltageFinding> supply;  ///< at the start and at the end
  std::vector<std::string> remarks;    ///< what the reader must know: soundness not decidable, leads drifted, ...
  std::string headline;                ///< one plain sentence that begins with the title

  /// Findings that deviate (kind is set), worst severity first.
  std::vector<const Finding*> deviations() const;
  /// Voltages that deviate (kind is set), worst severity first.
  std::vector<const VoltageFinding*> voltage_deviations() const;
  /// The powered part was asked for.
  bool has_powered_part() const { return !voltages.empty() || !voltages_not_measured.empty() || !supply.empty(); }
};

/// Sets the outcome and the headline from the scope and what is required.
void conclude(Verdict& verdict);

/// "Pass for continuity, soundness not decided", "Fail", "Undecided": never a bare pass.
std::string title_of(const Verdict& verdict);

}  // namespace switchwright
