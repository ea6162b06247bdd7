// What the commands below "lot" that need no store were asked to do.
#pragma once

#include <optional>
#include <string>

namespace switchwright::cli {

struct LotPlanOptions {
  long size = 0;
  std::string level = "II";
  std::string mode = "normal";
  double aql = 1.0;
  bool double_sampling = false;
  bool curve = false;
  std::string picture;             ///< file
  std::optional<double> ltpd_pct;  ///< a plan is looked for that keeps the risks at the AQL and here
  double alpha = 0.05;
  double beta = 0.10;
  std::optional<long> simulated;  ///< lots for each point of the curve
  bool json = false;
};

struct LotStudyOptions {
  std::string file;       ///< "-": standard input
  std::string reference;  ///< file
  std::string tolerance;  ///< with a unit or without, as the values
  bool json = false;
};

}  // namespace switchwright::cli
