#include "cli/output.hpp"

#include <fcntl.h>
#include <poll.h>
#include <spdlog/sinks/stdout_color_sinks.h>
#include <spdlog/spdlog.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>

#include "switchwright/core/error.hpp"
#include "switchwright/core/log.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

/// What was put and is not written yet. stdio would lose what a paused terminal did not take.
std::string buffer;
bool reader_gone = false;
std::string failure;     ///< once it failed it stays failed: what came before is missing
int readers_served = 0;  ///< how many EndsWithReader live

constexpr std::size_t enough_bytes = 1U << 16U;

void write_out() {
  std::string_view rest = failure.empty() ? std::string_view{buffer} : std::string_view{};
  int error_number = 0;
  while (!rest.empty() && !reader_gone && error_number == 0) {
    const auto n = ::write(STDOUT_FILENO, rest.data(), rest.size());
    if (n >= 0) {
      rest.remove_prefix(static_cast<std::size_t>(n));
    } else if (errno == EAGAIN || errno == EWOULDBLOCK) {
      pollfd paused{STDOUT_FILENO, POLLOUT, 0};  // Ctrl-S: a terminal that somebody reads at leisure
      ::poll(&paused, 1, 1000);
    } else if (errno == EPIPE) {
      reader_gone = true;
    } else if (errno != EINTR) {
      error_number = errno;
    }
  }
  buffer.clear();
  if (error_number != 0)
    failure = "standard output cannot be written (" + system_error_text(error_number) +
              "); what it should have told is missing";
  if (!failure.empty()) throw OutputFailed(failure);
  if (reader_gone && readers_served > 0) throw ClosedPipe{};
}

}  // namespace

EndsWithReader::EndsWithReader() { ++readers_served; }
EndsWithReader::~EndsWithReader() { --readers_served; }

void put(std::string_view text) {
  buffer += text;
  if (buffer.size() >= enough_bytes) write_out();
}

void put_line(std::string_view text) {
  put(text);
  put("\n");
  write_out();
}

void flush_output() { write_out(); }

void say(std::string_view text) {
  try {
    write_out();  // what was put before stands before it where both go to one place
  } catch (const std::exception&) {
    // who reads stderr is told all the same
  }
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

/// A descriptor that the caller closed would be given to the next file that is opened, and words for a reader would go
/// into the record store.
void occupy_standard_descriptors() {
  for (const int stream : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
    if (::fcntl(stream, F_GETFD) < 0) (void)::open("/dev/null", stream == STDERR_FILENO ? O_WRONLY : O_RDONLY);
}

/// A sentence may name a file, a port or a record that somebody else named: its lines stay, nothing in them moves a cursor.
void say_safe(std::string_view sentence) {
  std::string safe;
  for (bool first = true;; first = false) {
    const std::size_t end = sentence.find('\n');
    safe += (first ? "" : "\n") + terminal_safe(sentence.substr(0, end));
    if (end == std::string_view::npos) break;
    sentence.remove_prefix(end + 1);
  }
  say(safe);
}

constexpr int output_failed = 6;
constexpr int unexpected = 7;

}  // namespace

int guarded(const std::function<int()>& command) {
  std::signal(SIGPIPE, SIG_IGN);
  occupy_standard_descriptors();
  try {
    const int code = command();
    write_out();  // and throws when an earlier write failed
    return code;
  } catch (const ClosedPipe&) {
    return 0;
  } catch (const OutputFailed& error) {
    say(std::string{"switchwright: "} + error.what());
    return output_failed;
  } catch (const Error& error) {
    say_safe(std::string{"switchwright: "} + error.what());
    return exit_code(error.kind());
  } catch (const std::exception& error) {
    say_safe(std::string{"switchwright: unexpected: "} + error.what() + "; please report this");
    return unexpected;
  }
}

void start_log(const std::string& level) {
  auto logger = spdlog::stderr_color_mt("switchwright");
  logger->set_pattern("%Y-%m-%dT%H:%M:%S.%e %^%l%$ %v");
  logger->set_level(spdlog::level::from_str(level == "error" ? "err" : level));
  spdlog::set_default_logger(std::move(logger));
  if (spdlog::default_logger()->level() > spdlog::level::info) return;
  listen_to_log([](LogLevel said, const std::string& line) {
    spdlog::log(said == LogLevel::debug  ? spdlog::level::debug
                : said == LogLevel::info ? spdlog::level::info
                                         : spdlog::level::warn,
                "{}", line);
  });
}

}  // namespace switchwright::cli
