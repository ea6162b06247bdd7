// Programs that do what is not written again here (typesetting, rasterising), run as child processes.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace switchwright {

/// A private folder, gone afterwards.
class TemporaryFolder {
 public:
  TemporaryFolder();  ///< @throws Error(store)
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// Runs a program that writes `product`, and gives back what it wrote.
/// @param missing what cannot be done, and which package has the program: the error when it is not installed.
/// @param instead what to do when it fails. @throws Error
struct ChildWords {
  std::string missing;
  std::string package_advice;
  std::string instead;
};
/// @throws Error(usage) with those words when no program of that name can be started.
void require_program(const std::string& name, const ChildWords& words);
std::string product_of(const std::vector<std::string>& command, const std::filesystem::path& product,
                       const ChildWords& words);

}  // namespace switchwright
