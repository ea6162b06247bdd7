// A meter without a cable: a person reads the display and types what it shows. Each such reading says so in its raw
// text. Nothing is claimed about settling: one look is one reading.
#pragma once

#include <string>
#include <string_view>

#include "switchwright/core/reading.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// How --meter names it ("typed" or "typed:ID") and what its port is.
inline constexpr std::string_view typed_word = "typed";
bool is_typed(std::string_view meter_id);

/// "typed": a display whose accuracy nobody has stated, so that nothing can be decided. "typed:ID": the accuracy of that
/// definition; ID may be the beginning of exactly one name ("typed:lcd"). @throws Error(usage).
MeterDefinition typed_definition(const std::string& named, const SearchPath& where);

/// "47.2 ohm", "1.2kohm", "OL", "230.1 V": a value needs its unit, since a display's k and M are half of it. One digit
/// of the display is one step of the last digit typed. The raw text begins with "typed: ".
/// @param wanted what the dial stands on by the instruction: a "V" is AC or DC by it. @throws Error(usage).
Reading read_typed(std::string_view text, Quantity wanted, Instant at);

/// A step that the display does not have is a slip of the pen: mohm for Mohm. @throws Error(usage) then.
void require_step_of(const MeterDefinition& meter, const Reading& reading, std::string_view text);
/// What every reader of the record must know.
std::string typed_remark(const MeterDefinition& meter);

}  // namespace switchwright
