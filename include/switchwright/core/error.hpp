// The one error type. It says what happened, where, and what to do next, so that a person with both hands
// on probes can go on. The library throws it and never prints; the command line turns it into one sentence
// and an exit code.
#pragma once

#include <stdexcept>
#include <string>

namespace switchwright {

/// What kind of thing went wrong. The command line maps each to one documented exit code.
enum class ErrorKind {
  usage,        ///< a wrong option, an unknown id, a bad input file: exit 2
  meter,        ///< a meter, port or link failed: exit 4
  store,        ///< the record store, a bag or a signature failed: exit 5
  interrupted,  ///< the operator stopped: exit 130; what was measured is kept
};

/// Thread rule: immutable after construction.
class Error : public std::runtime_error {
 public:
  /// @param what_happened one plain clause, no trailing full stop ("no meter definition is called \"lcdd\"")
  /// @param where port, meter, position, pair or file:line:column; may be empty
  /// @param what_next one plain clause that says how to go on; may be empty
  Error(ErrorKind kind, std::string what_happened, std::string where = {}, std::string what_next = {});

  ErrorKind kind() const noexcept { return kind_; }
  const std::string& what_happened() const noexcept { return what_happened_; }
  const std::string& where() const noexcept { return where_; }
  const std::string& what_next() const noexcept { return what_next_; }

 private:
  ErrorKind kind_;
  std::string what_happened_;
  std::string where_;
  std::string what_next_;
};

/// Text for an operating-system error number, in one place ("Permission denied (EACCES)").
std::string system_error_text(int error_number);

}  // namespace switchwright
