// The bench is checked with resistors of known value before a shift: what reads them wrongly judges no part.
#pragma once

#include <vector>

#include "cli/lot/bench.hpp"
#include "switchwright/bench/session.hpp"

namespace switchwright::cli {

/// A part that is nothing but the lot's reference resistors, each between NAME/1 and NAME/2.
Profile reference_profile(const LotOpening& lot, const std::string& position);

/// By how much a reading of this resistor may differ: the meter's limit of error there, the leads' uncertainty, and the
/// resistor's own, taken as they are (no guard band: a check, not an acceptance). Ohm.
double allowed_ohm(const ReferenceResistor& resistor, const MeterDefinition& meter, const Leads& leads);

/// What the readings of a check amount to, one row per resistor that was read.
std::vector<BenchCheckRow> check_rows(const Record& record, const LotOpening& lot, const MeterDefinition& meter);

/// "bench check: R100 reads 100.2 ohm, +0.2 of 1.1 ohm allowed: in".
std::string check_words(const BenchCheckRow& row);

/// Reads them all in one session and keeps the rows in the lot's record. @throws Error(interrupted, meter) when it did not go
/// through; Error(meter) when the bench is out.
std::string check_bench(const LotBench& bench, const Sitting& sitting, const std::string& acknowledged_how);

}  // namespace switchwright::cli
