#include "cli/choose/meter_statements.hpp"

#include <fmt/format.h>

#include "cli/choose/choices.hpp"
#include "cli/output.hpp"
#include "switchwright/bench/stated_range.hpp"

namespace switchwright::cli {

std::vector<std::string> meter_statements(const std::string& stated, std::optional<double> ambient_c,
                                          const MeterDefinition& meter) {
  std::vector<std::string> all;
  if (!stated.empty()) all.push_back(stated_range_remark(stated, meter));
  if (ambient_c) {
    const TemperatureRange& range = meter.temperature;
    const double factor = range.factor_at(*ambient_c);
    all.push_back(fmt::format("Ambient stated as {:g} degC; the meter's accuracy holds from {:g} to {:g} degC{}.",
                              *ambient_c, range.from_c, range.to_c,
                              factor > 1.0
                                  ? fmt::format(", so its limits of error are taken {:.3g} times as large ({:g} per "
                                                "kelvin{})",
                                                factor, range.share_per_kelvin,
                                                range.given ? "" : ", common practice: the definition says nothing")
                                  : ""));
  }
  return all;
}

std::string ask_for_range(const MeterDefinition& meter) {
  if (!interactive() || !range_must_be_stated(meter)) return {};
  const std::string range = ask_line(
      "This meter does not show its range on ohms. Does it pick it (auto), or which full scale is it set to "
      "(like 40Mohm)? Empty: not stated, and opens stay undecided: ");
  if (!range.empty()) (void)read_stated_range(range);
  return range;
}

}  // namespace switchwright::cli
