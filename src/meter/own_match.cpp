// The meter on the bench says its serial number, the ledger holds one: they must be the same meter, or the
// certificate belongs to another.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "switchwright/core/text.hpp"
#include "switchwright/meter/own.hpp"

namespace switchwright {

namespace {

constexpr std::size_t longest_serial = 60;

std::string bare(std::string_view text) {
  const auto outside = [](char c) { return std::isspace(static_cast<unsigned char>(c)) != 0 || c == '"' || c == '\''; };
  while (!text.empty() && outside(text.front())) text.remove_prefix(1);
  while (!text.empty() && outside(text.back())) text.remove_suffix(1);
  return std::string{text.substr(0, longest_serial)};
}

/// Compared as a person would: letters of either case, without blanks, without the zeros that some meters put
/// in front.
std::string comparable(const std::string& serial) {
  std::string text;
  for (const char c : serial)
    if (std::isspace(static_cast<unsigned char>(c)) == 0)
      text += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text.substr(std::min(text.find_first_not_of('0'), text.size()));
}

}  // namespace

std::string definition_id(const std::string& definition) {
  const std::filesystem::path path = definition;
  return path.extension() == ".toml" ? path.stem().string() : definition;
}

std::string serial_in_identity(const std::string& identity) {
  std::string_view rest = identity;
  for (int field = 0; field < 2; ++field) {
    const std::size_t comma = rest.find(',');
    if (comma == std::string_view::npos) return {};
    rest.remove_prefix(comma + 1);
  }
  const std::string serial = terminal_safe(bare(rest.substr(0, rest.find(','))));
  return serial.find_first_not_of("0-") == std::string::npos ? std::string{} : serial;
}

OwnMatch match_own_meter(const std::vector<OwnMeter>& ledger, const std::optional<OwnMeter>& named,
                         const std::string& stated, const std::string& identity, const std::string& definition) {
  OwnMatch match;
  match.own = named;
  const std::string says = serial_in_identity(identity);
  const std::string expected = named ? named->serial : stated;
  match.serial = says.empty() ? expected : says;
  if (says.empty()) return match;
  const bool differs = !expected.empty() && comparable(expected) != comparable(says);
  if (!differs && named) return match;
  // It says who it is: the entry is found by that alone, but a person who named another is not overruled.
  const OwnMeter* found = nullptr;
  for (const OwnMeter& meter : ledger)
    if (definition_id(meter.definition) == definition && !meter.serial.empty() &&
        comparable(meter.serial) == comparable(says))
      found = &meter;
  if (!differs) {
    if (found) match.own = *found;
    return match;
  }
  match.own.reset();
  match.remarks.push_back(
      fmt::format("Another meter: the one that answers says its serial number is {}, not {}{}. {}{}", says, expected,
                  named ? " as the ledger has for " + named->name : " as stated",
                  named ? "The calibration and the corrections of " + named->name + " are not taken for it."
                        : "It is recorded as it answers.",
                  found ? " In the ledger it is " + found->name + ": choose it with --own " + found->name + "." : ""));
  return match;
}

}  // namespace switchwright
