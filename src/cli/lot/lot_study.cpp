#include "cli/options/options.hpp"
namespace switchwright::cli {
int run(const LotPlanOptions&) { return 2; }
int run(const LotStudyOptions&) { return 2; }
}  // namespace switchwright::cli
