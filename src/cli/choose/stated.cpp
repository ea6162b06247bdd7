#include "cli/choose/stated.hpp"

#include <algorithm>
#include <functional>

#include "cli/choose/choices.hpp"
#include "cli/output.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

/// Asked again until it can be read; false: left empty.
bool ask_until_read(const std::string& prompt, const std::function<void(const std::string&)>& read) {
  for (;;) {
    const std::string answer = ask_line(prompt);
    if (answer.empty()) return false;
    try {
      read(answer);
      return true;
    } catch (const Error& error) {
      put_line(error.what());
    }
  }
}

}  // namespace

void ask_for_stated(const Profile& profile, const std::optional<Record>& earlier, std::vector<StatedResult>& stated) {
  const auto said = [](const std::vector<StatedResult>& results, const std::string& id) {
    return std::any_of(results.begin(), results.end(), [&](const StatedResult& r) { return r.id == id; });
  };
  for (const StatedRequirement& wanted : profile.stated) {
    if (!wanted.required || said(stated, wanted.id) || (earlier && said(earlier->stated, wanted.id))) continue;
    put_line("\n" +
             full_stop("From another instrument: " + terminal_safe(wanted.id) + ", " + terminal_safe(wanted.what)));
    StatedResult result;
    result.id = wanted.id;
    if (!ask_until_read("Value with its unit (Enter: not measured): ", [&](const std::string& text) {
          parse_stated_value(text, wanted, result);
          result.text = text;
        }))
      continue;
    if (!wanted.U_pct)
      ask_until_read("Its uncertainty, like 10% (Enter: not known): ",
                     [&](const std::string& text) { parse_stated_U(text, wanted, result); });
    result.instrument = ask_line("Which instrument: ");
    ask_until_read("Its calibration is due on (YYYY-MM-DD): ",
                   [&](const std::string& text) { parse_stated_due(text, result); });
    stated.push_back(std::move(result));
  }
}

}  // namespace switchwright::cli
