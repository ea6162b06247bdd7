// Which records of one piece make a claim together.
#pragma once

#include <string>
#include <vector>

#include "switchwright/record/store.hpp"

namespace switchwright {

/// The newest finished qualification of this record's serial number, or trace where the record is a qualification.
/// @throws Error(usage) when there is none.
std::string claim_partner(const Store& store, const RecordHeader& header);
/// @throws Error(usage) when nothing says that both are of one piece: serial number, part, profile, simulated or not.
void require_one_piece(const RecordHeader& one, const RecordHeader& other);
/// The record and its partner, the trace last.
std::vector<Record> claim_records(const Store& store, Record record);

}  // namespace switchwright
