// Options of the commands that ask whether a part suits, that train, that learn a part, and that measure contacts' drops.
#pragma once

#include <CLI/CLI.hpp>
#include <optional>

#include "cli/options/options.hpp"

namespace switchwright::cli {

struct PracticeTable {
  FitOptions fit;
  PracticeOptions practice;
  LearnOptions learn;
  DropOptions drop;
};

void describe_practice(CLI::App& app, PracticeTable& table, std::optional<Command>& chosen);

}  // namespace switchwright::cli
