// What was written to a record, kept once more in a nameless file of our own: should the store be taken away while the
// work goes on, the record can still be put aside whole.
#pragma once

#include <functional>
#include <string>
#include <string_view>

namespace switchwright {

/// Lines in the order in which they were added. Kept in memory while they are few, then in a file without a name that
/// is gone with the process. A copy that cannot be kept is no reason to stop: then the journal is not whole.
class LinkJournal {
 public:
  LinkJournal() = default;
  LinkJournal(LinkJournal&& other) noexcept;
  LinkJournal& operator=(LinkJournal&&) = delete;
  LinkJournal(const LinkJournal&) = delete;
  ~LinkJournal();

  /// @param line without a line end in it.
  void add(std::string_view line);
  bool whole() const { return whole_; }
  /// @returns false when it could not be read back to its end.
  bool each(const std::function<void(std::string_view)>& take) const;

 private:
  void spill();

  int file_ = -1;
  std::string memory_;  ///< what is not in the file yet
  bool no_file_ = false;
  bool whole_ = true;
};

}  // namespace switchwright
