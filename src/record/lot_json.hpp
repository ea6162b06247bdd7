// The parts of a batch that only a lot has.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "switchwright/record/record.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

void put_lot(nlohmann::json& object, const Batch& batch);
void add_lot_to_record(const nlohmann::json& batch, Batch& record);

}  // namespace switchwright
