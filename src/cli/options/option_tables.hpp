// The option tables that have files of their own; options.cpp puts them together.
#pragma once

#include <CLI/CLI.hpp>
#include <optional>

#include "cli/options/options.hpp"

namespace switchwright::cli {

void describe_meters(CLI::App& app, std::optional<Command>& chosen);

}  // namespace switchwright::cli
