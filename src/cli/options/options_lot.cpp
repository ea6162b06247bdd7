#include "cli/options/options_lot.hpp"

#include <CLI/CLI.hpp>

#include "cli/options/options_lot_plan.hpp"

namespace switchwright::cli {

void describe_lot(CLI::App& app, std::optional<Command>& chosen) {
  auto* lot = app.add_subcommand("lot", "incoming inspection: from the carton to a decision");
  lot->require_subcommand(1);
  describe_lot_plan(*lot, chosen);
}

}  // namespace switchwright::cli
