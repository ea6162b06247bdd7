// What happened on a channel of a trace, and how often its contact has switched.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include "switchwright/cycle/cycle.hpp"

namespace switchwright {

/// What happened on a channel, counted, the first ones kept.
class CycleEventLog {
 public:
  static constexpr std::size_t most_kept = 100;
  CycleEventLog() = default;
  /// As it was kept: the first ones of `count`.
  CycleEventLog(std::vector<CycleEvent> first, std::uint64_t count) : first_(std::move(first)), count_(count) {}
  void add(const CycleEvent& event);
  void clear();
  const std::vector<CycleEvent>& first() const { return first_; }
  std::uint64_t count() const { return count_; }

 private:
  std::vector<CycleEvent> first_;
  std::uint64_t count_ = 0;
};

/// Operations counted on one serial number against what the maker declares.
struct Life {
  std::uint64_t operations = 0;         ///< in this trace
  std::uint64_t operations_before = 0;  ///< in earlier records of the same serial number
  std::uint64_t records_before = 0;
  std::optional<double> endurance_operations;
  std::uint64_t total() const { return operations + operations_before; }
};

}  // namespace switchwright
