// Options whose value is a number, a time, a date or one of a few words: read in one way (core/amount) and refused with the
// same words in every command.
#pragma once

#include <CLI/CLI.hpp>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/core/amount.hpp"

namespace switchwright::cli {

/// No meter needs longer to settle, and no hands longer to move: more is a mistake of the unit ("2h" for "2s"), and it would be
/// found out only after the work has begun.
constexpr AmountRange settle_range{0.0, 60.0, true};
constexpr AmountRange patience_range{0.0, 3600.0, true};

/// How long something may run: up to some four months.
constexpr AmountRange run_range{0.0, 1e7, true};

/// The longest of the names ("-o,--output" is "--output"): what a refusal calls the option.
std::string long_name(const std::string& names);

/// A number with its unit; `target` (double or optional) takes it as core/amount gives it.
template <class Target>
CLI::Option* add_amount(CLI::App& app, const std::string& names, Target& target, Amount amount, AmountRange range,
                        const std::string& help) {
  return app.add_option_function<std::string>(
      names,
      [&target, amount, range, name = long_name(names)](const std::string& text) {
        target = read_amount(text, amount, range, name);
      },
      help);
}

/// A duration: "90s", "15m", "2h".
template <class Target>
CLI::Option* add_time(CLI::App& app, const std::string& names, Target& target, AmountRange range,
                      const std::string& help) {
  return add_amount(app, names, target, Amount::seconds, range, help)->type_name("TIME");
}

template <class T>
struct CountOf {
  using type = T;
};
template <class T>
struct CountOf<std::optional<T>> {
  using type = T;
};

/// A whole number; `noun` ("cycle") may follow it.
template <class Target>
CLI::Option* add_count(CLI::App& app, const std::string& names, Target& target, unsigned long least, unsigned long most,
                       const std::string& noun, const std::string& help) {
  return app
      .add_option_function<std::string>(
          names,
          [&target, least, most, noun, name = long_name(names)](const std::string& text) {
            using Value = typename CountOf<Target>::type;
            target = static_cast<Value>(read_count(text, least, most, noun, name));
          },
          help)
      ->type_name("N");
}

/// One of these words; a near one is offered.
CLI::Validator one_of(std::vector<std::string> words);

/// A day of the calendar that is not to come: YYYY-MM-DD.
CLI::Validator past_date();

}  // namespace switchwright::cli
