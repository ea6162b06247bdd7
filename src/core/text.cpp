#include "switchwright/core/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace switchwright {

namespace {

/// Optimal string alignment distance: insert, delete, replace, swap neighbours.
std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i)
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replace = a[i - 1] == b[j - 1] ? 0 : 1;
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + replace});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
    }
  return d[a.size()][b.size()];
}

struct Prefix {
  double factor;
  const char* symbol;
};
constexpr Prefix prefixes[] = {{1e9, "G"}, {1e6, "M"}, {1e3, "k"}, {1.0, ""}, {1e-3, "m"}, {1e-6, "u"}, {1e-9, "n"}};

Prefix prefix_for(double magnitude, bool small_too) {
  if (magnitude == 0.0) return {1.0, ""};
  for (const Prefix& prefix : prefixes) {
    if (prefix.factor < 1.0 && !small_too) break;
    if (magnitude >= prefix.factor) return prefix;
  }
  return {1.0, ""};
}

/// Decimals that show `resolution` when counting in `factor`.
int decimals_for(double resolution, double factor) {
  return std::clamp(static_cast<int>(std::ceil(-std::log10(resolution / factor) - 1e-9)), 0, 9);
}

}  // namespace

std::string full_stop(std::string clause) {
  while (clause.ends_with(' ')) clause.pop_back();
  if (!clause.empty() && std::string_view(".?!").find(clause.back()) == std::string_view::npos) clause += '.';
  return clause;
}

std::string sentences(const std::vector<std::string>& clauses) {
  std::string text;
  for (const std::string& clause : clauses) {
    if (clause.empty()) continue;
    if (!text.empty()) text += ' ';
    text += full_stop(clause);
  }
  return text;
}

std::vector<std::string> near_names(std::string_view name, const std::vector<std::string>& candidates) {
  const std::size_t most = std::clamp<std::size_t>(name.size() / 3, 1, 3);
  std::vector<std::pair<std::size_t, std::string>> near;
  for (const std::string& candidate : candidates) {
    const std::size_t distance = edit_distance(name, candidate);
    const bool begins = name.size() >= 3 && candidate.starts_with(name);
    if (distance <= most || begins) near.emplace_back(begins ? 0 : distance, candidate);
  }
  std::stable_sort(near.begin(), near.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<std::string> names;
  for (auto& [distance, candidate] : near) names.push_back(std::move(candidate));
  return names;
}

std::string suggestion(std::string_view name, const std::vector<std::string>& candidates) {
  const auto near = near_names(name, candidates);
  if (!near.empty()) return "did you mean \"" + near.front() + "\"?";
  if (candidates.empty() || candidates.size() > 12) return {};
  std::string list = "known: ";
  for (std::size_t i = 0; i < candidates.size(); ++i) list += (i ? ", " : "") + candidates[i];
  return list;
}

std::string human_value(double value, Quantity quantity, double resolution) {
  const std::string unit{unit_of(quantity)};
  if (std::isinf(value)) return (value < 0 ? "-infinity " : "infinity ") + unit;
  const bool small_too = quantity != Quantity::temperature && quantity != Quantity::duty && !is_resistance(quantity);
  const Prefix prefix = prefix_for(std::abs(value), small_too);
  const double scaled = value / prefix.factor;
  if (resolution > 0.0) {
    const int decimals = decimals_for(resolution, prefix.factor);
    const bool rounds_to_zero = std::abs(scaled) < 0.5 * std::pow(10.0, -decimals);  // "0.0", never "-0.0"
    return fmt::format("{:.{}f} {}{}", rounds_to_zero ? 0.0 : scaled, decimals, prefix.symbol, unit);
  }
  return fmt::format("{:.4g} {}{}", scaled, prefix.symbol, unit);
}

double told_value(double value, Quantity quantity, double resolution) {
  constexpr double few_digits = 5.0;
  return is_resistance(quantity) && value < 0.0 && -value <= few_digits * resolution * (1.0 + 1e-9) ? 0.0 : value;
}

std::string human_ohm(double ohm) {
  if (std::isinf(ohm)) return "open";
  return human_value(ohm, Quantity::resistance);
}

std::string human_seconds(double seconds) {
  if (seconds < 1.0) return fmt::format("{:.2f} s", seconds);
  if (seconds < 60.0) return fmt::format("{:.1f} s", seconds);
  const auto whole = static_cast<long long>(std::llround(seconds));
  if (whole < 3600) return fmt::format("{} min {:02} s", whole / 60, whole % 60);
  return fmt::format("{} h {:02} min", whole / 3600, whole % 3600 / 60);
}

std::string terminal_safe(std::string_view text) {
  std::string safe;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto c = static_cast<unsigned char>(text[i]);
    const bool c1 = c == 0xC2 && i + 1 < text.size() && static_cast<unsigned char>(text[i + 1]) < 0xA0;
    if (c < 0x20 || c == 0x7F) {
      safe += ' ';
    } else if (c1) {
      safe += ' ';
      ++i;
    } else {
      safe += static_cast<char>(c);
    }
  }
  return safe;
}

std::string name_key(std::string_view name) {
  std::string key;
  bool between = false;
  for (const char c : name) {
    if (c == ' ' || c == '\t') {
      between = !key.empty();
      continue;
    }
    if (between) key += ' ';
    between = false;
    key += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  }
  return key;
}

bool same_tag(std::string_view a, std::string_view b) {
  const auto folded = [](std::string_view tag) {
    std::string key = name_key(tag);
    std::erase(key, ' ');
    return key;
  };
  return folded(a) == folded(b);
}

std::string joined_with_and(const std::vector<std::string>& parts) {
  std::string text;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (i > 0) text += i + 1 == parts.size() ? " and " : ", ";
    text += parts[i];
  }
  return text;
}

}  // namespace switchwright
