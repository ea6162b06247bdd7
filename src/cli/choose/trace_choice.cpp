#include "cli/choose/trace_choice.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <optional>
#include <tuple>

#include "cli/choose/choices.hpp"
#include "cli/choose/claim.hpp"
#include "cli/options/options_trace.hpp"
#include "cli/output.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

std::string position_of(const TraceOptions& options, const Profile& profile) {
  std::vector<std::string> known;
  for (const Position& position : profile.positions) known.push_back(position.id);
  std::string given = options.position;
  if (given.empty()) {
    if (!interactive())
      throw Error(ErrorKind::usage, "the position of the knob is missing", "",
                  "give it with --position: " + joined_with_and(known));
    put_line("\nWhere does the knob stand?");
    for (std::size_t i = 0; i < known.size(); ++i) put_line(fmt::format("  {:2}  {}", i + 1, known[i]));
    while (given.empty()) {
      given = ask_line("Number or name: ");
      if (!given.empty() && given.find_first_not_of("0123456789") == std::string::npos) {
        const auto number = std::strtoul(given.c_str(), nullptr, 10);
        given = number >= 1 && number <= known.size() ? known[number - 1] : std::string{};
      }
    }
  }
  if (profile.position(given) == nullptr)
    throw Error(ErrorKind::usage, "profile " + profile.id + " has no position \"" + terminal_safe(given) + "\"",
                "--position", suggestion(given, known));
  return given;
}

/// Asked again until it can be read; empty is not known.
template <class Parse>
auto asked_number(Choices& choices, const char* key, const char* question, const std::string& given, bool ask,
                  const Parse& parse) -> std::pair<std::string, std::optional<double>> {
  std::string text = given;
  while (ask || !text.empty()) {
    if (ask && text.empty()) text = choices.text(key, question, "");
    if (text.empty()) break;
    try {
      return {text, parse(text)};
    } catch (const Error& error) {
      if (!ask) throw;
      put_line(error.what());
      text.clear();
    }
  }
  return {};
}

TraceSetup ask_setup(const TraceOptions& options, const Profile& profile, Choices& choices) {
  TraceSetup setup;
  setup.position = position_of(options, profile);
  // Asked for only where somebody answers; a script states them by option or leaves them unknown.
  const bool ask = interactive() && !options.json;
  setup.supply_v =
      asked_number(choices, "supply", "Supply voltage, V (empty: not known)", options.supply, ask, parse_volts).second;
  std::tie(setup.load, setup.load_ohm) = asked_number(
      choices, "load", "Load, like 2400W@240 or 24ohm (empty: not known)", options.load, ask, parse_load_ohm);
  setup.ambient_c = asked_number(choices, "ambient", "Ambient temperature, degC (empty: not known)", options.ambient,
                                 ask, parse_celsius)
                        .second;
  setup.setting = options.setting;
  if (ask && setup.setting.empty()) setup.setting = choices.text("setting", "How the knob stands, in words", "");
  return setup;
}

Acknowledgement acknowledged(const TraceOptions& options) {
  Acknowledgement given;
  given.what = "energised";
  for (const std::string& caution : energised_cautions()) given.text += (given.text.empty() ? "" : " ") + caution;
  given.who = options.operator_name;
  if (!options.acknowledge.empty()) {
    given.how = "option --acknowledge";
  } else if (interactive()) {
    put_line("\nBefore anything is energised:");
    for (const std::string& caution : energised_cautions()) put_line("  * " + caution);
    const std::string who = ask_line("\nType your name to acknowledge, or nothing to leave: ");
    if (who.empty()) throw Error(ErrorKind::interrupted, "not acknowledged, so nothing was recorded");
    given.who = who;
    given.how = "typed at the terminal";
  } else {
    throw Error(ErrorKind::usage, "the acknowledgement of energised work is missing", "",
                "read the cautions in the README and give --acknowledge energised");
  }
  given.at = SystemClock{}.now().wall;
  return given;
}

}  // namespace

TraceChoice choose_trace(const TraceOptions& given) {
  TraceChoice chosen{given, {}, {}, {}, {}, {}};
  TraceOptions& options = chosen.options;
  Choices choices;
  chosen.profile = choices.profile(options.profile);
  chosen.channels = chosen_channels(options, chosen.profile, choices, SystemClock{}.now().wall);
  if (!interactive() && options.acknowledge.empty()) acknowledged(options);  // says what is missing
  chosen.setup = ask_setup(options, chosen.profile, choices);
  if (interactive() && !options.json) {
    options.part = choices.text("part", "Part", options.part);
    options.serial = choices.text("serial", "Serial number or tag", options.serial);
    options.operator_name = choices.text("operator", "Operator", options.operator_name);
    choices.remember();
  }
  chosen.claim = chosen_claim(options.claim);
  if (!interactive()) options.operator_name = named_operator(options.operator_name);
  chosen.acknowledgement = acknowledged(options);
  return chosen;
}

}  // namespace switchwright::cli
