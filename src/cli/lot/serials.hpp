// Serial numbers as a barcode scanner types them: one line each, never a default, and one that was had before is asked about.
#pragma once

#include <fstream>
#include <string>

#include "cli/lot/bench.hpp"
#include "switchwright/analysis/lot_course.hpp"

namespace switchwright::cli {

class Serials {
 public:
  explicit Serials(const LotBench& bench) : bench_(bench) {}

  struct Answer {
    std::string serial;
    int again_place = 0;  ///< the same piece as at this place, once more; 0: a new one
    bool lost = false;
    bool stop = false;
    std::string reason;  ///< of lost
  };
  /// @param label what the hands have read; empty: a person types or scans it
  /// @throws Error(usage) that names the option, where nobody can be asked.
  Answer of(const LotPlaceState& place, const std::string& label, const LotCourse& course, const Store& store);

 private:
  std::string given(const std::string& label);

  const LotBench& bench_;
  std::ifstream file_;
  int lines_ = 0;
};

}  // namespace switchwright::cli
