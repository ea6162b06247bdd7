#include "switchwright/core/words.hpp"

#include "switchwright/core/quantity.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

std::vector<std::string> quantity_names() {
  std::vector<std::string> names;
  for (int i = 0; i <= static_cast<int>(Quantity::temperature); ++i)
    names.emplace_back(name_of(static_cast<Quantity>(i)));
  return names;
}

std::string shell_word(std::string_view text) {
  const std::string safe = terminal_safe(text);
  constexpr const char* plain = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-+=./:,@%";
  if (!safe.empty() && safe.find_first_not_of(plain) == std::string::npos) return safe;
  std::string quoted = "'";
  for (const char c : safe) quoted += c == '\'' ? std::string{"'\\''"} : std::string(1, c);
  return quoted + "'";
}

}  // namespace switchwright
