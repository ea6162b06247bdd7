// The option tables that have files of their own; options.cpp puts them together.
#pragma once

#include <CLI/CLI.hpp>
#include <optional>
#include <string>
#include <vector>

#include "cli/options/options.hpp"

namespace switchwright::cli {

inline void add_stated(CLI::App& command, std::vector<std::string>& stated) {
  command
      .add_option("--stated", stated,
                  "what another instrument showed, for a [[stated]] limit of the profile; may be repeated: "
                  "\"insulation=500 Mohm, U=10%, instrument=NAME, due=2027-01-31\"")
      ->type_name("RESULT")
      ->allow_extra_args(false);
}

/// --require, for every command that ends with a verdict.
inline void add_require(CLI::App* command, std::string& require) {
  command
      ->add_option(
          "--require", require,
          "what must be decided for a pass: any of continuity, soundness, voltages, timing, inspection, stated, "
          "joined by commas; else the outcome is undecided (exit 3)")
      ->type_name("PARTS");
}

/// --order, --appliance, ...: what a claim names, for every command that makes a record of real work.
void add_claim(CLI::App& command, ClaimOptions& claim);

/// records and what stands below it, report, label, bag, keys.
void describe_keeping(CLI::App& app, std::optional<Command>& chosen);

void describe_meters(CLI::App& app, std::optional<Command>& chosen);

}  // namespace switchwright::cli
