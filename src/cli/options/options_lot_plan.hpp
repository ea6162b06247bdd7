// The option tables of the commands below "lot" that need no store: plan and study.
#pragma once

#include <optional>

#include "cli/options/options.hpp"

namespace CLI {
class App;
}

namespace switchwright::cli {

void describe_lot_plan(CLI::App& lot, std::optional<Command>& chosen);

}  // namespace switchwright::cli
