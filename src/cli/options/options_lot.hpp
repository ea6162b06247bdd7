// The option tables of "lot".
#pragma once

#include <optional>

#include "cli/options/options.hpp"

namespace CLI {
class App;
}

namespace switchwright::cli {

void describe_lot(CLI::App& app, std::optional<Command>& chosen);

}  // namespace switchwright::cli
