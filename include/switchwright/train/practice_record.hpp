// Practice is kept in the form of a record, in a store of its own, and says in every place that is shown that
// no real part was tested.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "switchwright/record/store.hpp"
#include "switchwright/train/exercise.hpp"

namespace switchwright {

class PracticeRecord {
 public:
  /// @throws Error(usage) when the store holds records of real work: practice never stands among them.
  PracticeRecord(const std::filesystem::path& store, const Exercise& exercise, const std::string& level,
                 const std::string& learner, const std::string& tool_version);

  /// Keeps the exercise's newest reading at once.
  void keep_reading(const Exercise& exercise);
  /// Closes the record with what was named and what was right.
  void conclude(const Exercise& exercise, const Judgement& judgement);

  const std::string& id() const { return id_; }
  const std::filesystem::path& path() const { return store_.path(); }

 private:
  Store store_;
  std::string id_;
};

}  // namespace switchwright
