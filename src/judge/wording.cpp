#include "switchwright/judge/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/text.hpp"

namespace switchwright::wording {

std::string place(const Profile& profile, const std::string& position) {
  for (const Position& p : profile.positions)
    if (p.id == position && !p.label.empty()) return p.label;
  return position;
}

std::string ohm(double value, double resolution) {
  return human_value(told_value(value, Quantity::resistance, resolution), Quantity::resistance, resolution);
}

std::string two_figures_ohm(double U) {
  if (!(U > 0.0) || std::isinf(U)) return human_ohm(U);
  const double step = std::pow(10.0, std::floor(std::log10(U)) - 1.0);
  return human_ohm(std::round(U / step) * step);
}

std::string must_be(const Expectation& expected) {
  switch (expected.state) {
    case PairState::open: return fmt::format("open (at least {})", human_ohm(expected.ohm.min));
    case PairState::closed: return fmt::format("closed (at most {})", human_ohm(expected.ohm.max));
    case PairState::element:
      return fmt::format("between {} and {}", human_ohm(expected.ohm.min), human_ohm(expected.ohm.max));
    case PairState::not_checked: break;
  }
  return "left out";
}

std::string count_of(std::size_t count, const std::string& noun) {
  return fmt::format("{} {}{}", count, noun, count == 1 ? "" : "s");
}

std::string capitalised(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

}  // namespace switchwright::wording
