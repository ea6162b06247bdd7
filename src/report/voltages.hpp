// What a report says about the part under power: voltages in place of resistances, told in the same way.
#pragma once

#include <string>
#include <vector>

#include "report/medium.hpp"
#include "report/view.hpp"

namespace switchwright {

/// Findings that say the same about one pair at several positions; told once.
struct VoltageGroup {
  std::vector<const VoltageFinding*> findings;  ///< in the order of measuring
  const VoltageFinding& first() const { return *findings.front(); }
};

/// Worst severity first.
std::vector<VoltageGroup> voltage_deviations(const View& view);
std::vector<VoltageGroup> undecided_voltages(const View& view);
/// The first finding's sentence, and where else the same holds.
std::string told(const View& view, const VoltageGroup& group);

/// "live, 228 V to 252 V", "dead, at most 1 V", "dead, at most 1 V, or live, 226.1 V to 252 V", "off, stray at most 60 V".
std::string must_be(const VoltageExpectation& expected);
/// "(240.1 +/- 3.4) V", "over-range".
std::string result_text(const VoltageFinding& finding);

/// The table of voltages as plain lines; empty when no voltage was judged.
std::string voltages_as_text(const View& view);
/// The section of the page; empty when no voltage was judged.
std::string voltages_as_html(const View& view, Medium medium);

}  // namespace switchwright
