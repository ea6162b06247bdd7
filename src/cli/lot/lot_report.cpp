#include "cli/options/options.hpp"
namespace switchwright::cli {
int run(const LotReportOptions&) { return 2; }
int run(const LotHistoryOptions&) { return 2; }
}  // namespace switchwright::cli
