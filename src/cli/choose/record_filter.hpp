// Which records a person means.
#pragma once

#include <optional>
#include <vector>

#include "cli/options/options.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

/// The filter, understood once. @throws Error(usage) for a day that is none.
class RecordMatcher {
 public:
  explicit RecordMatcher(const RecordFilter& filter);
  bool fits(const RecordSummary& record) const;
  /// Nothing that began before this one fits: newest first, the search is over.
  bool is_past(const RecordSummary& record) const { return from_ && record.started < *from_; }
  bool takes_all() const;

 private:
  RecordFilter filter_;
  std::optional<Wall> from_, to_;
};

/// Those of the store that fit, newest first.
std::vector<RecordSummary> matching(const Store& store, const RecordFilter& filter);

}  // namespace switchwright::cli
