#include <type_traits>
#include <variant>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/push_after_work.hpp"

int main(int argc, char** argv) {
  using namespace switchwright::cli;
  return guarded([&] {
    int exit_code = 0;
    const auto invocation = parse(argc, argv, exit_code);
    if (!invocation) return exit_code;
    start_log(invocation->log_level);
    return std::visit(
        [](const auto& options) {
          using Options = std::decay_t<decltype(options)>;
          const int code = run(options);
          if constexpr (std::is_same_v<Options, QualifyOptions> || std::is_same_v<Options, TraceOptions> ||
                        std::is_same_v<Options, LearnOptions> || std::is_same_v<Options, DropOptions>)
            push_after_work(options.store);
          return code;
        },
        invocation->command);
  });
}
