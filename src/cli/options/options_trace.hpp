// The options of `trace` and `analyze`.
#pragma once

#include <optional>

#include "cli/options/options.hpp"

namespace CLI {
class App;
}

namespace switchwright::cli {

/// Adds both commands; the one that is given is put into `chosen`, which must outlive the parsing.
void describe_tracing(CLI::App& app, std::optional<Command>& chosen);

/// "240" or "240 V"; volts. @throws Error(usage).
double parse_volts(const std::string& text);
/// "2800W@240" (that power at that voltage), "21ohm" or "21"; ohm. @throws Error(usage).
double parse_load_ohm(const std::string& text);
/// "23" or "23 C"; degrees Celsius. @throws Error(usage).
double parse_celsius(const std::string& text);

}  // namespace switchwright::cli
