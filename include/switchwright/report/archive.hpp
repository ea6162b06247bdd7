// A bag that came by mail as one file: .tar, .tar.gz or .zip, unpacked where it can do no harm.
#pragma once

#include <cstdint>
#include <filesystem>

namespace switchwright {

/// What an archive may hold at most; a day's trace with its report is far below.
struct ArchiveLimits {
  std::uint64_t bytes = 4ULL << 30;
  std::uint64_t files = 10'000;
};

/// Unpacks regular files and folders below `folder`, which must be empty. Refused: names that are absolute or lead out, links,
/// devices, pipes, a name twice, encrypted entries, more than the limits, whatever is damaged.
/// @returns the folder that holds bagit.txt: `folder`, or the only folder in it.
/// @throws Error(store) with what was refused and where.
std::filesystem::path unpack_archive(const std::filesystem::path& archive, const std::filesystem::path& folder,
                                     const ArchiveLimits& limits = {});

}  // namespace switchwright
