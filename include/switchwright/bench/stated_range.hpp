// What an operator states about the range of a meter that does not show it.
#pragma once

#include <string>

#include "switchwright/judge/judge.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// "auto", or a full scale: "40Mohm", "4e7". @throws Error(usage).
StatedRange read_stated_range(const std::string& text);
/// Nobody else can know it: the meter's frames say nothing, and the tool does not select it.
bool range_must_be_stated(const MeterDefinition& meter);
/// What every reader of the record must know about it. @throws Error(usage) for a range that this meter does not have.
std::string stated_range_remark(const std::string& text, const MeterDefinition& meter);

}  // namespace switchwright
