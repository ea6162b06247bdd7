// When the store cannot take a batch at the end of a session (disk full, file system gone), what was measured is put aside
// in a rescue file and can be brought back later.
#pragma once

#include <filesystem>
#include <string>

#include "switchwright/record/store.hpp"

namespace switchwright {

/// Writes the batch to the first place that takes it: beside the store, the temporary directory, memory (/dev/shm), the
/// home directory. @returns the file. @throws Error(store) when none takes it, with the batch's size.
std::filesystem::path write_rescue_file(const Store& store, const std::string& record_id, const Batch& batch);

/// Appends what a rescue file holds to its record and renames the file to NAME.restored. @returns one sentence.
/// @throws Error(usage) when the file is not one of ours or was restored already; Error(store) when the store refuses.
std::string restore_rescue_file(Store& store, const std::filesystem::path& file);

}  // namespace switchwright
