// Options of a simulated switch under power, beside the table in options.cpp.
#pragma once

namespace CLI {
class App;
}

namespace switchwright::cli {

struct SimulateOptions;

void describe_simulated_power(CLI::App& simulate, SimulateOptions& options);

/// Options that play bad leads, a wrong zero, fingers, and voltages that should not be there.
void describe_simulated_probes(CLI::App& simulate, SimulateOptions& options);

/// A carton of parts, one after another on the bench, and the resistors that the bench is checked with.
void describe_simulated_carton(CLI::App& simulate, SimulateOptions& options);

}  // namespace switchwright::cli
