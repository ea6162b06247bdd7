// Where words go: results to stdout, everything else to stderr; one place turns an error into a sentence and an exit
// code.
#pragma once

#include <functional>
#include <stdexcept>
#include <string>
#include <string_view>

namespace switchwright::cli {

/// stdout was closed by its reader while the work was for that reader; the command ends quietly.
class ClosedPipe : public std::runtime_error {
 public:
  ClosedPipe() : std::runtime_error("stdout is closed") {}
};

/// stdout takes nothing though nobody closed it: a full disk, a device that is gone. Exit code 6.
class OutputFailed : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Writes to stdout; waits while a terminal is paused. When the reader has closed the pipe the rest is dropped, so that
/// the exit code still tells the result. @throws OutputFailed; ClosedPipe while an EndsWithReader lives.
void put(std::string_view text);
/// The same with a line end, flushed.
void put_line(std::string_view text);
/// What was put stands where it is read.
void flush_output();
/// A line for the person on stderr; never fails.
void say(std::string_view text);

/// While it lives, the work is for whoever reads stdout and has no end of its own: when nobody reads any more, put()
/// throws ClosedPipe.
class EndsWithReader {
 public:
  EndsWithReader();
  ~EndsWithReader();
  EndsWithReader(const EndsWithReader&) = delete;
  EndsWithReader& operator=(const EndsWithReader&) = delete;
};

/// Both stdin and stdout are a terminal, so that a person can be asked.
bool interactive();
bool stdout_is_terminal();
/// Colour is wanted: a terminal, not dumb, NO_COLOR unset.
bool colour();

/// Runs a command and turns what it throws into one sentence on stderr and the documented exit code.
int guarded(const std::function<int()>& command);

void start_log(const std::string& level);

}  // namespace switchwright::cli
