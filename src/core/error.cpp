#include "switchwright/core/error.hpp"

#include <system_error>

namespace switchwright {

namespace {
std::string sentence(const std::string& what, const std::string& where, const std::string& next) {
  std::string text = where.empty() ? what : where + ": " + what;
  if (!next.empty()) text += "; " + next;
  return text;
}
}  // namespace

Error::Error(ErrorKind kind, std::string what_happened, std::string where, std::string what_next)
    : std::runtime_error(sentence(what_happened, where, what_next)),
      kind_(kind),
      what_happened_(std::move(what_happened)),
      where_(std::move(where)),
      what_next_(std::move(what_next)) {}

std::string system_error_text(int error_number) {
  return std::error_code(error_number, std::generic_category()).message();
}

}  // namespace switchwright
