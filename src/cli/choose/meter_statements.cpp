#include "cli/choose/meter_statements.hpp"

#include <fmt/format.h>

#include "cli/choose/choices.hpp"
#include "cli/output.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

StatedRange stated_range(const std::string& text) {
  if (text == "auto") return {};
  return {read_amount(text, Amount::ohms, {0.0, 1e12, true}, "--range")};
}

std::vector<std::string> meter_statements(const std::string& stated, std::optional<double> ambient_c, const MeterDefinition& meter) {
  std::vector<std::string> all;
  if (!stated.empty()) {
    const StatedRange range = stated_range(stated);
    const auto top = meter.top_of_range(Quantity::resistance);
    if (range.full_scale_ohm && top && *range.full_scale_ohm > *top * 1.1)
      throw Error(ErrorKind::usage, "this meter's highest range ends at " + human_ohm(*top), "--range",
                  "state the range that it is set to");
    all.push_back(meter.shows_autorange() || meter.selects(Quantity::resistance)
                      ? "The range that was stated does not count: this meter shows its range itself."
                      : "The meter's range on ohms is stated by the operator (" +
                            (range.full_scale_ohm ? human_ohm(*range.full_scale_ohm) : std::string{"it picks its range"}) +
                            "), not shown by the meter.");
  }
  if (ambient_c) {
    const TemperatureRange& range = meter.temperature;
    const double factor = range.factor_at(*ambient_c);
    all.push_back(fmt::format("Ambient stated as {:g} degC; the meter's accuracy holds from {:g} to {:g} degC{}.",
                              *ambient_c, range.from_c, range.to_c,
                              factor > 1.0 ? fmt::format(", so its limits of error are taken {:.3g} times as large ({:g} per "
                                                         "kelvin{})",
                                                         factor, range.share_per_kelvin,
                                                         range.given ? "" : ", common practice: the definition says nothing")
                                           : ""));
  }
  return all;
}

std::string ask_for_range(const MeterDefinition& meter) {
  if (!interactive() || meter.shows_autorange() || meter.selects(Quantity::resistance)) return {};
  const std::string range =
      ask_line("This meter does not show its range on ohms. Does it pick it (auto), or which full scale is it set to "
               "(like 40Mohm)? Empty: not stated, and opens stay undecided: ");
  if (!range.empty()) (void)stated_range(range);
  return range;
}

}  // namespace switchwright::cli
