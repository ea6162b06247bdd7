// Where words go: results to stdout, everything else to stderr; one place turns an error into a sentence and an exit
// code.
#pragma once

#include <functional>
#include <stdexcept>
#include <string>
#include <string_view>

namespace switchwright::cli {

/// stdout was closed by its reader; the command ends quietly.
class ClosedPipe : public std::runtime_error {
 public:
  ClosedPipe() : std::runtime_error("stdout is closed") {}
};

/// Writes to stdout. @throws ClosedPipe when nobody reads any more.
void put(std::string_view text);
/// The same with a line end, flushed.
void put_line(std::string_view text);
/// A line for the person on stderr; never fails.
void say(std::string_view text);

/// Both stdin and stdout are a terminal, so that a person can be asked.
bool interactive();
bool stdout_is_terminal();
/// Colour is wanted: a terminal, not dumb, NO_COLOR unset.
bool colour();

/// Runs a command and turns what it throws into one sentence on stderr and the documented exit code.
int guarded(const std::function<int()>& command);

void start_log(const std::string& level);

}  // namespace switchwright::cli
