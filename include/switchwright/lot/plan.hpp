// Which sample a lot needs: MIL-STD-105E (10 May 1989), single sampling for normal, tightened and reduced inspection, double
// sampling for normal inspection. Pure tables: what a plan is worth says operating_characteristic.hpp.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace switchwright {

enum class InspectionMode { normal, tightened, reduced };
enum class InspectionLevel { I, II, III, S1, S2, S3, S4 };

std::string to_string(InspectionMode mode);    ///< "normal"
std::string to_string(InspectionLevel level);  ///< "II", "S-3"
/// In the order of the enumeration; for option tables.
const std::vector<std::string>& inspection_mode_names();
const std::vector<std::string>& inspection_level_names();
/// @throws Error(usage) that names those there are. "s3" counts as "S-3".
InspectionMode inspection_mode_named(std::string_view name);
InspectionLevel inspection_level_named(std::string_view name);

/// The 26 AQLs of the standard, 0.010 to 1000. Up to 10 they may be percent defective or defects per hundred units, above 10
/// they are defects per hundred units only.
std::span<const double> preferred_aqls();
/// "0.010", "1.0", "1000", as the tables print it.
std::string aql_text(double aql);
/// The AQLs above this are defects per hundred units (MIL-STD-105E 4.4, from memory).
constexpr double largest_percent_aql = 10.0;

/// One row of Tables II-A, II-B, II-C, arrows followed.
struct TablePlan {
  char letter = 'A';  ///< of the row that the arrows lead to; the sample size is that row's
  int sample_size = 0;
  int accept = 0;
  /// More than accept + 1 on reduced inspection only: a count between the two accepts the lot and ends reduced inspection.
  int reject = 1;
};
/// @param letter A to R without I and O. @throws Error(usage) for another letter, or an AQL that is not among the preferred ones.
TablePlan table_plan(InspectionMode mode, char letter, double aql);

/// Table I. @throws Error(usage) below 2 units: the standard has no plan for a lot of one, which is tested by itself.
char code_letter(long lot_size, InspectionLevel level);

/// What to do with one lot.
struct SamplingPlan {
  long lot_size = 0;
  InspectionLevel level = InspectionLevel::II;
  InspectionMode mode = InspectionMode::normal;
  double aql = 1.0;
  char code_letter = 'A';  ///< Table I
  TablePlan table;         ///< as the table has it
  /// The table's sample reaches the lot: every unit is inspected (footnote of Tables II).
  bool whole_lot = false;
  long sample_size = 0;  ///< units to inspect: the table's, at most the lot
  int accept = 0;
  int reject = 1;
};
/// @throws Error(usage) as above.
SamplingPlan sampling_plan(long lot_size, InspectionLevel level, double aql, InspectionMode mode);

/// Table III-A: two samples of the same size.
struct DoublePlan {
  int sample_size = 0;           ///< of each of the two
  int accept1 = 0, reject1 = 1;  ///< after the first; between them the second is taken
  int accept2 = 0, reject2 = 1;  ///< of both together
};
/// The double plan that goes with a single one, or why there is none.
struct DoubleOffer {
  std::optional<DoublePlan> plan;
  std::string why_not;  ///< a sentence where there is no plan
};
DoubleOffer double_plan(const SamplingPlan& single);

}  // namespace switchwright
