#include "cli/options/option_values.hpp"

#include <chrono>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

std::string long_name(const std::string& names) {
  const auto dashes = names.find("--");
  return dashes == std::string::npos ? names : names.substr(dashes, names.find(',', dashes) - dashes);
}

CLI::Validator one_of(std::vector<std::string> words) {
  std::string listed;
  for (const std::string& word : words)
    if (!word.empty()) listed += (listed.empty() ? "" : "|") + word;
  return CLI::Validator{[words](std::string& text) -> std::string {
                          for (const std::string& word : words)
                            if (word == text) return {};
                          const std::string hint = suggestion(text, words);
                          return "\"" + terminal_safe(text) + "\" is not one of its words; " +
                                 (hint.empty() ? "known: " + joined_with_and(words) : hint);
                        },
                        listed};
}

CLI::Validator past_date() {
  return CLI::Validator{[](std::string& text) -> std::string {
                          if (!is_calendar_date(text))
                            return "\"" + terminal_safe(text) +
                                   "\" is no day of the calendar; write it like 2026-01-31";
                          // The day is the bench's own, up to 14 hours ahead of UTC.
                          if (text > iso8601(SystemClock{}.now().wall + std::chrono::hours{14}).substr(0, 10))
                            return text + " is yet to come; give the day it was done";
                          return {};
                        },
                        "YYYY-MM-DD"};
}

}  // namespace switchwright::cli
