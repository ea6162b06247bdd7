// What a verdict's outcome is as an exit code.
#pragma once

#include "switchwright/judge/outcome.hpp"

namespace switchwright::cli {

constexpr int exit_code(Outcome outcome) { return outcome == Outcome::pass ? 0 : outcome == Outcome::fail ? 1 : 3; }

}  // namespace switchwright::cli
