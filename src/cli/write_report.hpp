// Choosing a record and a format: shared by report, bag and qualify.
#pragma once

#include <string>

#include "switchwright/record/store.hpp"

namespace switchwright::cli {

/// The export format that a file's ending asks for; text when it asks for none.
std::string format_for(const std::string& file);
/// What Store takes for a record that is named by its id, its beginning, or "latest". @throws Error(usage).
std::string record_named(const Store& store, const std::string& id);
/// A record by id, unique beginning, or "latest". @throws Error(usage).
Record load_record(const Store& store, const std::string& id);

}  // namespace switchwright::cli
