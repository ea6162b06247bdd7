// A file that is either the old one or the new one, whole, whatever happens meanwhile.
#pragma once

#include <string>
#include <string_view>

namespace switchwright {

/// Written piece by piece beside its target, and there at once when it is kept. Not kept: nothing happened. What is no
/// ordinary file (a terminal, a pipe, a device) is written in place.
class DurableFile {
 public:
  /// @throws Error(store) when there is no writing there.
  explicit DurableFile(std::string path);
  ~DurableFile();
  DurableFile(const DurableFile&) = delete;
  DurableFile& operator=(const DurableFile&) = delete;

  void write(std::string_view bytes);  ///< @throws Error(store).
  /// Syncs, renames over the target, and syncs the folder so that the rename itself lasts. @throws Error(store).
  void keep();

 private:
  [[noreturn]] void fail(int error_number);

  std::string path_;
  std::string beside_;  ///< empty: written in place
  int file_ = -1;
};

/// All at once. @throws Error(store).
void write_file_durably(const std::string& path, const std::string& content);

/// Tries whether a file could be written at this place, and leaves everything as it was: for a path that is given long
/// before there is something to write. @param option whose value the path is, for the sentence.
/// @throws Error(usage) when it could not.
void require_writable(const std::string& path, const std::string& option);

}  // namespace switchwright
