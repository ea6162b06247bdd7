// A folder as one file to download: ustar, the tar of POSIX.1-1988 (IEEE Std 1003.1, pax, "ustar Interchange Format"),
// which every system opens.
#pragma once

#include <filesystem>
#include <string>

namespace switchwright::page {

/// Everything under `parent`/`name`, with `name` as the folder in it. @throws Error(store).
std::string tar_of(const std::filesystem::path& parent, const std::string& name);

}  // namespace switchwright::page
