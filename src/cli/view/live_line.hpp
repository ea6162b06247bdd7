// `read` on a terminal: one line that is written over, with the latest value and a small trend.
#pragma once

#include <deque>
#include <optional>
#include <string>

#include "switchwright/core/reading.hpp"

namespace switchwright::cli {

class LiveLine {
 public:
  /// @param words the reading for a person; @returns the line to show, without line end.
  std::string add(const Reading& reading, const std::string& words);

 private:
  std::string trend() const;

  std::deque<std::optional<double>> values_;  ///< nothing: over-range or no number
  std::optional<Quantity> quantity_;
};

}  // namespace switchwright::cli
