// A file that is either the old one or the new one, whole, whatever happens meanwhile.
#pragma once

#include <string>

namespace switchwright {

/// Writes beside the target and renames, syncing file and directory. @throws Error(store).
void write_file_durably(const std::string& path, const std::string& content);

}  // namespace switchwright
