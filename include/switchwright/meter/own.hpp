// The calibration ledger: the shop's own meters, each with what its certificate says. A definition says how a
// kind of meter talks; an entry here is one meter on the shelf, with its serial number, calibration and
// corrections.
//
//   [[meter]]
//   name = "bench-3"
//   definition = "lcd-segment-14"
//   serial = "10428"
//   calibrated = "2026-01-15"
//   due = "2027-01-15"
//   certificate = "K-0815"
//     [[meter.correction]]        # what the certificate says to add, and its expanded uncertainty
//     quantity = "resistance"
//     from = 0.0
//     to = 400.0
//     add = 0.05
//     U = 0.04
//     k = 2.0
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

struct OwnMeter {
  std::string name;
  std::string definition;   ///< id of a meter definition
  std::string serial;       ///< may be empty, and the record says so
  std::string calibrated;   ///< YYYY-MM-DD; empty: unknown
  std::string due;          ///< YYYY-MM-DD; empty: no date is kept
  std::string certificate;  ///< number; may be empty
  std::vector<Correction> corrections;
};

/// "2027-01-31": a day that exists, since 1900, and nothing else.
bool is_date(const std::string& text);

enum class CalibrationState { valid, overdue, unknown };
/// "valid", "overdue", "unknown".
std::string to_string(CalibrationState state);

/// Valid on the due date itself, overdue from the day after (UTC); unknown without a calibration date or
/// without a due date.
CalibrationState calibration_state(const OwnMeter& meter, Wall when);
/// For the record: "2026-01-15, certificate K-0815, due 2027-01-15"; with ": OVERDUE" where it is; empty when
/// unknown.
std::string calibration_words(const OwnMeter& meter, Wall when);
/// What every reader must know, one plain sentence each: overdue or unknown calibration, corrections that are
/// applied.
std::vector<std::string> calibration_remarks(const OwnMeter& meter, Wall when);

/// The serial number in an answer to *IDN? (manufacturer, model, serial, firmware by IEEE 488.2); empty when
/// it names none
/// ("0" stands for that, and some meters have fewer fields).
std::string serial_in_identity(const std::string& identity);

/// An entry names its definition by id or by the path of a file; the id of either.
std::string definition_id(const std::string& definition);

/// Which entry of the ledger the meter on the bench is, once it has said who it is.
struct OwnMatch {
  std::optional<OwnMeter> own;       ///< absent: none, and nothing may be corrected by the ledger
  std::string serial;                ///< of the meter that answered; as stated when it does not say
  std::vector<std::string> remarks;  ///< what every reader must know: the meter is not the one that was named
};
/// @param named the entry that was chosen, absent when none was
/// @param stated a serial number that a person gave; may be empty
/// @param identity what the meter says it is; empty when it does not
OwnMatch match_own_meter(const std::vector<OwnMeter>& ledger, const std::optional<OwnMeter>& named,
                         const std::string& stated, const std::string& identity, const std::string& definition);

/// Loads the ledger; no file is an empty ledger. @throws Error(usage) with every mistake of the file at once.
std::vector<OwnMeter> load_own_meters(const std::filesystem::path& file);
/// @throws Error(usage) for entries that load_own_meters would refuse; `file` names them in messages.
void check_own_meters(const std::vector<OwnMeter>& meters, const std::filesystem::path& file);
/// Writes the ledger through a new file and a rename. @throws Error(store).
void save_own_meters(const std::filesystem::path& file, const std::vector<OwnMeter>& meters);

/// "resistance 0..400 +0.05 U 0.04" or with "k 2" at the end. @throws Error(usage).
Correction parse_correction(const std::string& text);
/// "resistance 0..400 ohm: +0.05 ohm (U 0.04 ohm, k = 2)".
std::string correction_words(const Correction& correction);

/// The definition with the meter's corrections in it, also in its text, so that a record holds what was
/// applied.
/// @throws Error(usage) when the corrections are not valid.
MeterDefinition with_corrections(const MeterDefinition& definition, const OwnMeter& meter);

}  // namespace switchwright
