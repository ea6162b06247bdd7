#include <fmt/format.h>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/suit/fit.hpp"

namespace switchwright {

namespace {

constexpr const char* option = "--load";

}  // namespace

FitLoad parse_load(const std::string& text) {
  const auto refuse = [&](const char* why) {
    return Error(ErrorKind::usage, fmt::format("\"{}\" is not a load: {}", terminal_safe(text), why), option,
                 "write it like 2800W@240 (watts at the voltage the element is made for), 10A or 21ohm");
  };
  const auto at = text.find('@');
  const std::string amount = text.substr(0, at);
  const auto kind = unit_kind_of(amount);
  if (!kind || (*kind != Amount::watts && *kind != Amount::amperes && *kind != Amount::ohms))
    throw refuse("it does not say watts, amperes or ohms");
  FitLoad load;
  const double value = read_amount(amount, *kind, {0.0, 1e9, true}, option);
  if (at + 1 == text.size()) throw refuse("no voltage follows the @");
  if (at != std::string::npos) load.at_v = read_amount(text.substr(at + 1), Amount::volts, {0.0, 1e5, true}, option);
  switch (*kind) {
    case Amount::watts:
      if (!load.at_v) throw refuse("watts need the voltage that they are given at");
      load.power_w = value;
      break;
    case Amount::amperes: load.current_a = value; break;
    default:
      if (load.at_v) throw refuse("ohms are the same at every voltage");
      load.ohm = value;
  }
  return load;
}

double ohm_of(const FitLoad& load) {
  if (load.ohm) return *load.ohm;
  if (load.power_w && load.at_v) return *load.at_v * *load.at_v / *load.power_w;
  if (load.current_a && load.at_v) return *load.at_v / *load.current_a;
  throw Error(ErrorKind::usage, "amperes alone do not say what the load is", option,
              "add the voltage that they flow at: 15A@240");
}

}  // namespace switchwright
