#include "switchwright/lot/mixed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

constexpr double enough = 0.95;

double below(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

/// Density of the reading for a version.
double density(double ohm, double u_ohm, const VersionOhm& version) {
  const double width = version.upper_ohm - version.lower_ohm;
  if (u_ohm <= 0.0) return ohm >= version.lower_ohm && ohm <= version.upper_ohm ? 1.0 / width : 0.0;
  // From the side that is nearer, so that what is left far outside is not rounding.
  const double to_upper = (version.upper_ohm - ohm) / u_ohm, to_lower = (version.lower_ohm - ohm) / u_ohm;
  const double share = to_lower > 0.0 ? below(-to_lower) - below(-to_upper) : below(to_upper) - below(to_lower);
  return std::max(0.0, share) / width;
}

void check(double ohm, double u_ohm, std::span<const VersionOhm> versions) {
  if (!(ohm > 0.0) || !std::isfinite(ohm) || !(u_ohm >= 0.0) || !std::isfinite(u_ohm))
    throw Error(ErrorKind::usage, "a version is told from a resistance above 0 and its uncertainty");
  if (std::count_if(versions.begin(), versions.end(), [](const VersionOhm& v) { return v.ordered; }) != 1)
    throw Error(ErrorKind::usage, "exactly one of the versions is the ordered one");
  for (const VersionOhm& version : versions)
    if (!(version.lower_ohm > 0.0 && version.upper_ohm > version.lower_ohm && std::isfinite(version.upper_ohm)))
      throw Error(ErrorKind::usage, "the limits of version " + version.id + " are no interval above 0 ohm");
}

std::string percent(double share) {
  if (share > 0.999) return "more than 99.9 %";
  if (share < 0.001) return "less than 0.1 %";
  return fmt::format("{:.1f} %", 100.0 * share);
}

}  // namespace

VersionOf version_of(double ohm, double u_ohm, std::span<const VersionOhm> versions, const MixedPriors& priors) {
  check(ohm, u_ohm, versions);
  double least = versions[0].lower_ohm, most = versions[0].upper_ohm;
  for (const VersionOhm& version : versions) {
    least = std::min(least, version.lower_ohm);
    most = std::max(most, version.upper_ohm);
  }
  const double anything = 1.0 / (ohm * std::log(100.0 * most / least));

  VersionOf result;
  double total = priors.neither * anything, ordered = 0.0, others = 0.0;
  std::string ordered_id;
  for (const VersionOhm& version : versions) {
    const double d = density(ohm, u_ohm, version);
    (version.ordered ? ordered : others) += d;
    if (version.ordered) ordered_id = version.id;
    result.versions.push_back({version.id, (version.ordered ? priors.ordered : priors.each_other) * d});
    total += result.versions.back().probability;
  }
  for (VersionChance& chance : result.versions) chance.probability /= total;
  result.neither = priors.neither * anything / total;
  std::stable_sort(result.versions.begin(), result.versions.end(),
                   [](const VersionChance& a, const VersionChance& b) { return a.probability > b.probability; });

  const VersionChance& best = result.versions.front();
  const std::string value = human_ohm(ohm);
  if (best.probability >= enough && best.id != ordered_id) {
    result.answer = VersionAnswer::other;
    result.id = best.id;
    result.words = fmt::format("{} is a {} (probability {}), not the {} that was ordered; of neither: {}.", value,
                               best.id, percent(best.probability), ordered_id, percent(result.neither));
  } else if (best.probability >= enough && ordered >= enough * (ordered + others)) {
    result.answer = VersionAnswer::ordered;
    result.id = ordered_id;
    result.words = fmt::format("{} is a {} as ordered (probability {}); of neither: {}.", value, ordered_id,
                               percent(best.probability), percent(result.neither));
  } else if (result.neither >= enough) {
    result.answer = VersionAnswer::neither;
    result.words = fmt::format("{} is of no version listed (probability {}).", value, percent(result.neither));
  } else {
    std::vector<std::string> chances;
    for (const VersionChance& chance : result.versions)
      if (chance.probability >= 0.001) chances.push_back(fmt::format("{} {}", chance.id, percent(chance.probability)));
    chances.push_back("neither " + percent(result.neither));
    result.words = fmt::format("{} does not tell the version: {}.", value, joined_with_and(chances));
  }
  return result;
}

}  // namespace switchwright
