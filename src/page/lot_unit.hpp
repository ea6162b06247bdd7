// Lots on the page: how they stand, and which unit comes next. Every unit is acknowledged and proven dead by itself here; what a
// sitting at the terminal does once for several units is not done.
#pragma once

#include <string>

#include "page/work.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::page {

/// A unit that is to be tested: where it belongs, and the record that an earlier sitting began.
struct LotUnit {
  std::string lot_id, lot_number;
  LotUnitRow row;           ///< place, unit, serial, plan
  std::string open_record;  ///< empty: a new one is begun
};

/// Newest first, those that are open before those that are closed.
Json lots_json(const Store& store);
/// Where a sitting ended between a unit's verdict and its note in the lot, the note is made now.
void note_finished(Store& store, const std::string& lot_id);
/// @throws Refusal where the lot cannot be gone on with
/// here, or the serial number is missing or was had before.
LotUnit next_lot_unit(const Record& lot, const std::string& serial, bool simulated);

/// Both: the store must hold the lot, by take_up. @throws Error.
void note_begun(Store& store, const LotUnit& unit, const std::string& record);
/// Nothing where the record has no verdict yet.
void note_tested(Store& store, const LotUnit& unit, const std::string& record);

}  // namespace switchwright::page
