#include <fast_float/fast_float.h>

#include <cmath>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/suit/fit.hpp"

namespace switchwright {

namespace {

/// Takes a number and what follows it off the front of `text`.
std::optional<double> number(std::string_view& text) {
  double value = 0.0;
  const auto [end, problem] = fast_float::from_chars(text.data(), text.data() + text.size(), value);
  if (problem != std::errc{} || !std::isfinite(value) || !(value > 0.0)) return std::nullopt;
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  return value;
}

}  // namespace

FitLoad parse_load(const std::string& text) {
  const auto refuse = [&]() -> Error {
    return {ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a load", "--load",
            "write it like 2800W@240 (watts at the voltage the element is made for), 2.8kW@240 or 10A"};
  };
  std::string_view rest = text;
  const auto value = number(rest);
  if (!value) throw refuse();
  FitLoad load;
  const auto unit = rest.substr(0, rest.find('@'));
  rest.remove_prefix(unit.size());
  if (unit == "W" || unit == "w")
    load.power_w = *value;
  else if (unit == "kW" || unit == "kw")
    load.power_w = *value * 1000.0;
  else if (unit == "A" || unit == "a")
    load.current_a = *value;
  else
    throw refuse();
  if (!rest.empty()) {
    rest.remove_prefix(1);
    load.at_v = number(rest);
    if (!load.at_v || !(rest.empty() || rest == "V" || rest == "v")) throw refuse();
  }
  if (load.power_w && !load.at_v) throw refuse();
  return load;
}

}  // namespace switchwright
