// Choosing a record and a format: shared by report and qualify.
#pragma once

#include <string>

#include "switchwright/record/store.hpp"

namespace switchwright::cli {

/// The export format that a file's ending asks for; text when it asks for none.
std::string format_for(const std::string& file);
/// A record by id, unique beginning, or "latest". @throws Error(usage).
Record load_record(const Store& store, const std::string& id);

}  // namespace switchwright::cli
