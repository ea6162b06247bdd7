// Whether the files that are written are still the files at their path. SQLite goes on writing to a file that was deleted
// or replaced, and says that all is well; here it shows.
#pragma once

#include <sys/types.h>

#include <array>
#include <string>

#include "record/database.hpp"

namespace switchwright {

class StoreWatch {
 public:
  /// Remembers the files as they are; call it when the store is open and its schema is there.
  explicit StoreWatch(const Database& database);
  /// @throws StoreLost that says which file was deleted, replaced or cut short.
  void look();

 private:
  struct File {
    std::string path;
    bool seen = false;
    dev_t device = 0;
    ino_t number = 0;
  };
  void look_at(File& file) const;
  void look_inside() const;
  bool holds_identity() const;

  const Database& database_;
  std::array<File, 3> files_;  ///< the database, its log, the index of the log
  std::string identity_;       ///< drawn when the store was made; kept on a page that never changes
  std::int64_t identity_page_ = 0;
  std::int64_t page_size_ = 0;
  bool identity_on_disk_ = false;  ///< no longer in the log only
  mutable std::int64_t largest_ = 0;
};

}  // namespace switchwright
