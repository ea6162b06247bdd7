// When the store cannot take a batch at the end of a session (disk full, file system gone), or is itself gone, what was
// measured is put aside in a rescue file and can be brought back later.
//
// The file is text: a line {"record":ID,"switchwright_rescue":2}, then links of the record's chain, one a line, as the
// store keeps them (canonical JSON, each naming the SHA-256 of the one before): those that the store lacks, or all.
#pragma once

#include <filesystem>
#include <string>

#include "switchwright/record/store.hpp"

namespace switchwright {

struct Rescued {
  std::filesystem::path file;
  bool complete = true;  ///< false: of what was written earlier not everything could be had any more
};

/// Writes what is not kept to the first place that takes it: beside the store, the temporary directory, memory
/// (/dev/shm), the home directory. @param whole the record from its beginning, because the store is lost; else the batch
/// alone. @throws Error(store) when no place takes it.
Rescued write_rescue_file(const Store& store, const std::string& record_id, const Batch& batch, bool whole);

/// Brings back what a rescue file holds and renames the file to NAME.restored. @returns one sentence.
/// @throws Error(usage) when the file is not one of ours; Error(store) when the store refuses or went another way.
std::string restore_rescue_file(Store& store, const std::filesystem::path& file);

}  // namespace switchwright
