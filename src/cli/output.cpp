#include "cli/output.hpp"

#include <spdlog/sinks/stdout_color_sinks.h>
#include <spdlog/spdlog.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>

#include "switchwright/core/error.hpp"

namespace switchwright::cli {

void put(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size()) throw ClosedPipe{};
}

void put_line(std::string_view text) {
  put(text);
  put("\n");
  if (std::fflush(stdout) != 0) throw ClosedPipe{};
}

void say(std::string_view text) {
  std::fflush(stdout);  // what was put before stands before it where both go to one place
  std::fprintf(stderr, "%.*s\n", static_cast<int>(text.size()), text.data());
}

bool interactive() { return ::isatty(STDIN_FILENO) && ::isatty(STDOUT_FILENO); }
bool stdout_is_terminal() { return ::isatty(STDOUT_FILENO); }

bool colour() {
  const char* no_color = std::getenv("NO_COLOR");
  const char* term = std::getenv("TERM");
  return stdout_is_terminal() && !(no_color && *no_color) && term && std::string_view{term} != "dumb";
}

namespace {

int exit_code(ErrorKind kind) {
  switch (kind) {
    case ErrorKind::usage: return 2;
    case ErrorKind::meter: return 4;
    case ErrorKind::store: return 5;
    case ErrorKind::interrupted: return 130;
  }
  return 2;
}

}  // namespace

int guarded(const std::function<int()>& command) {
  std::signal(SIGPIPE, SIG_IGN);
  try {
    const int code = command();
    if (std::fflush(stdout) != 0 && errno == ENOSPC)
      throw Error(ErrorKind::store, "standard output could not be written", "", system_error_text(ENOSPC));
    return code;
  } catch (const ClosedPipe&) {
    return 0;
  } catch (const Error& error) {
    say(std::string{"switchwright: "} + error.what());
    return exit_code(error.kind());
  } catch (const std::exception& error) {
    say(std::string{"switchwright: unexpected: "} + error.what());
    return 2;
  }
}

void start_log(const std::string& level) {
  auto logger = spdlog::stderr_color_mt("switchwright");
  logger->set_pattern("%Y-%m-%dT%H:%M:%S.%e %^%l%$ %v");
  logger->set_level(spdlog::level::from_str(level == "error" ? "err" : level));
  spdlog::set_default_logger(std::move(logger));
}

}  // namespace switchwright::cli
