#include <variant>

#include "cli/options/options.hpp"
#include "cli/output.hpp"

int main(int argc, char** argv) {
  using namespace switchwright::cli;
  return guarded([&] {
    int exit_code = 0;
    const auto invocation = parse(argc, argv, exit_code);
    if (!invocation) return exit_code;
    start_log(invocation->log_level);
    return std::visit([](const auto& options) { return run(options); }, invocation->command);
  });
}
