#include "switchwright/explain/wiring.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "switchwright/core/text.hpp"
#include "switchwright/profile/wired.hpp"

namespace switchwright {

namespace {

/// The single faults that some reading shows, spelled; of things outside too.
std::set<std::string> shown(const Profile& profile, const MeterDefinition& meter, const JudgeSettings& settings) {
  std::set<std::string> faults;
  for (const CoveredFault& fault : faults_shown(profile, expectations(profile), meter, settings))
    if (fault.detected()) faults.insert(to_string(fault.hypothesis));
  return faults;
}

/// Every choice of `count` out of `from`, until `take` says that one will do.
template <class Take>
bool any_choice(const std::vector<std::string>& from, std::size_t count, Take take) {
  std::vector<char> chosen(from.size(), 0);
  std::fill(chosen.begin(), chosen.begin() + static_cast<std::ptrdiff_t>(count), 1);
  do {
    std::vector<std::string> names;
    for (std::size_t i = 0; i < from.size(); ++i)
      if (chosen[i]) names.push_back(from[i]);
    if (take(names)) return true;
  } while (std::prev_permutation(chosen.begin(), chosen.end()));
  return false;
}

}  // namespace

HiddenByWiring hidden_by_wiring(const Profile& profile, const MeterDefinition& meter, const JudgeSettings& settings) {
  HiddenByWiring hidden;
  const Profile bare = all_pulled(profile);
  const auto on_bench = faults_shown(bare, expectations(bare), meter, settings);
  const auto missing_in = [&](const Profile& wired) {
    const std::set<std::string> seen = shown(wired, meter, settings);
    std::vector<std::string> missing;
    for (const CoveredFault& fault : on_bench)
      if (fault.detected() && !seen.contains(to_string(fault.hypothesis))) {
        const std::string words = in_words(fault.hypothesis);
        if (std::find(missing.begin(), missing.end(), words) == missing.end()) missing.push_back(words);
      }
    return missing;
  };
  hidden.faults = missing_in(profile);
  const std::vector<std::string> wired = wired_terminals(profile);
  for (std::size_t count = 1; !hidden.faults.empty() && count <= wired.size(); ++count)
    if (any_choice(wired, count, [&](const std::vector<std::string>& pulled) {
          if (!missing_in(with_pulled(profile, pulled)).empty()) return false;
          hidden.pull = pulled;
          return true;
        }))
      break;
  return hidden;
}

std::string hidden_words(const HiddenByWiring& hidden) {
  if (hidden.faults.empty()) return "As the part is wired, every single fault shows that shows on the bench.";
  return fmt::format("As the part is wired no reading shows {}. Pulling {} shows all.", joined_with_and(hidden.faults),
                     joined_with_and(hidden.pull));
}

}  // namespace switchwright
