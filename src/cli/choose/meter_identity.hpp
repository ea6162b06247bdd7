// Who is at the other end? Asked before a record is begun, so that the record names the meter that answers.
#pragma once

#include <string>
#include <vector>

#include "switchwright/core/loop.hpp"
#include "switchwright/meter/meter.hpp"

namespace switchwright::cli {

/// Runs the loop until the meter has said what it is, has given or refused an answer otherwise, or a few
/// seconds have passed; at once for meters that cannot say. @param changes what the link told so far; the
/// caller's callback fills it
/// @throws Error(interrupted) when the operator stops it.
std::string identity_of(Loop& loop, const Meter& meter, const MeterDefinition& definition,
                        const std::vector<LinkChange>& changes);

}  // namespace switchwright::cli
