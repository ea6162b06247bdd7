// Who does the work and what a claim names: asked in one place, kept with the order, never taken from the last part.
#pragma once

#include <string>

#include "cli/options/options.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright::cli {

/// What was given; in a terminal, with --claim, the rest is asked for, and what was answered for the same order before is offered.
/// Without a terminal what the order is known for stays unsaid: nobody looked at it.
Claim chosen_claim(const ClaimOptions& given);

/// A name for whoever acts: as given, else the login name of this account, and said to be that.
std::string named_operator(const std::string& given);

/// The bench's own clock: offset from UTC and its name.
void stamp_zone(RecordHeader& header);

}  // namespace switchwright::cli
