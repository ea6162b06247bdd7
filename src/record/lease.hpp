// Who may write a record: one process at a time. The right is a lock that the system takes back when the process ends,
// however it ends, so that a bench that lost its power is never in its own way.
#pragma once

#include <filesystem>
#include <string>

namespace switchwright {

/// Held as long as it lives. One byte of the file PATH-lock beside the store stands for each record; the file holds
/// nothing and may be deleted when no bench works.
class RecordLease {
 public:
  /// @throws Error(store) when another process, or another Store of this one, writes the record.
  RecordLease(const std::filesystem::path& store, const std::string& record_id);
  RecordLease(RecordLease&& other) noexcept;
  RecordLease& operator=(RecordLease&&) = delete;
  RecordLease(const RecordLease&) = delete;
  ~RecordLease();

  /// Somebody writes the record at this moment.
  static bool is_taken(const std::filesystem::path& store, const std::string& record_id);

 private:
  int file_ = -1;
};

}  // namespace switchwright
