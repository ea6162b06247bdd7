#include "switchwright/bench/stated_range.hpp"

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

StatedRange read_stated_range(const std::string& text) {
  if (text == "auto") return {};
  return {read_amount(text, Amount::ohms, {0.0, 1e12, true}, "--range")};
}

bool range_must_be_stated(const MeterDefinition& meter) {
  return !meter.shows_autorange() && !meter.selects(Quantity::resistance);
}

std::string stated_range_remark(const std::string& text, const MeterDefinition& meter) {
  const StatedRange range = read_stated_range(text);
  const auto top = meter.top_of_range(Quantity::resistance);
  if (range.full_scale_ohm && top && *range.full_scale_ohm > *top * 1.1)
    throw Error(ErrorKind::usage, "this meter's highest range ends at " + human_ohm(*top), "--range",
                "state the range that it is set to");
  if (!range_must_be_stated(meter))
    return "The range that was stated does not count: this meter shows its range itself.";
  return "The meter's range on ohms is stated by the operator (" +
         (range.full_scale_ohm ? human_ohm(*range.full_scale_ohm) : std::string{"it picks its range"}) +
         "), not shown by the meter.";
}

}  // namespace switchwright
