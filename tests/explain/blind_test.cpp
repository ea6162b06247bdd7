// Blind tests: random faulty switches, a hand-held meter with its own errors, and the question whether the
// fault that was put in comes first, or in the group that the readings cannot tell apart. SWITCHWRIGHT_BLIND
// sets how many switches per profile (default 150).
#include <doctest/doctest.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <string>
#include <vector>

#include "simulated.hpp"
#include "switchwright/profile/library.hpp"

using namespace parts;

namespace {

std::vector<std::filesystem::path> profile_folder() {
  return {std::filesystem::path(SOURCE_DIR) / "profiles"};
}

int switches_per_profile() {
  const char* asked = std::getenv("SWITCHWRIGHT_BLIND");
  return asked ? std::max(std::atoi(asked), 1) : 150;
}

std::string kind_of(const Hypothesis& h) {
  std::string text;
  for (const Cause& cause : h.causes) {
    const std::string word = to_string(cause);
    text += (text.empty() ? "" : " + ") + word.substr(0, word.find_first_of(":="));
  }
  return text.empty() ? "none" : text;
}

struct Tally {
  int first = 0, in_group = 0, wrong = 0;
  std::size_t group_members = 0;  ///< all groups together, to show that they are small
  int all() const { return first + in_group + wrong; }
  double found() const { return static_cast<double>(first + in_group) / std::max(all(), 1); }
};

/// Puts `count` random hypotheses with `causes` causes into switches and asks for them back.
Tally blind(const Profile& profile, const std::vector<Profile>& others, const MeterDefinition& definition,
            std::size_t causes, int count, std::map<std::string, Tally>& by_kind,
            std::vector<std::string>& misses) {
  const FaultPriors priors =
      load_fault_priors(std::filesystem::path(SOURCE_DIR) / "profiles/priors/faults.toml");
  std::vector<Hypothesis> pool;
  for (const Hypothesis& h : hypotheses(profile, others, priors, causes > 1))
    if (h.causes.size() == causes) pool.push_back(h);
  const auto expected = expectations(profile);
  std::mt19937_64 random(20260301);
  Tally tally;
  for (int i = 0; i < count; ++i) {
    const Hypothesis& truth = pool[random() % pool.size()];
    const simulated::Switch part(profile, others, truth.causes, random);
    simulated::Meter meter(definition, random);
    const Leads leads = meter.leads();
    const auto findings = simulated::measure(part, meter, definition, profile, expected, leads);
    const Diagnosis d = explain(profile, others, findings, {}, definition, leads, priors);
    const Explanation& first = d.explanations.front();
    Tally& kind = by_kind[kind_of(truth)];
    std::vector<std::string> group = first.same_readings_as;
    group.insert(group.end(), first.hides.begin(), first.hides.end());
    tally.group_members += 1 + group.size();
    if (simulated::label(first.hypothesis) == simulated::label(truth)) {
      ++tally.first, ++kind.first;
    } else if (std::find(group.begin(), group.end(), simulated::label(truth)) != group.end()) {
      ++tally.in_group, ++kind.in_group;
    } else {
      ++tally.wrong, ++kind.wrong;
      if (misses.size() < 40)
        misses.push_back(to_string(truth) + " taken for " + to_string(first.hypothesis));
    }
  }
  return tally;
}

void blind_test(std::size_t causes, double least_found) {
  std::vector<Profile> library;
  for (const std::string& id : list_profiles(profile_folder()))
    library.push_back(load_profile(id, profile_folder()));
  for (const Profile& profile : library) {
    std::map<std::string, Tally> by_kind;
    std::vector<std::string> misses;
    const Tally tally = blind(profile, library, handheld(), causes, switches_per_profile(), by_kind, misses);
    std::printf("%s, %zu fault(s), %d switches: first %d, in its group %d, wrong %d; groups of %.1f\n",
                profile.id.c_str(), causes, tally.all(), tally.first, tally.in_group, tally.wrong,
                static_cast<double>(tally.group_members) / tally.all());
    if (causes == 1)
      for (const auto& [kind, t] : by_kind)
        std::printf("  %-14s first %4d  group %4d  wrong %4d\n", kind.c_str(), t.first, t.in_group, t.wrong);
    for (const std::string& miss : misses) std::printf("  missed: %s\n", miss.c_str());
    CAPTURE(profile.id);
    CHECK(tally.found() >= least_found);
  }
}

}  // namespace

TEST_CASE("a random single fault is named first or in its group in 99 of 100 switches") {
  blind_test(1, 0.99);
}

TEST_CASE("a random double fault is named first or in its group in 95 of 100 switches") {
  blind_test(2, 0.95);
}
