// Usage: blind_table [SWITCHES [SEED]]
// Puts random faults into simulated switches, measures each with the simulator's hand-held meter, asks the
// diagnosis what is wrong, and prints how often the right answer came first, stood in the group that the
// readings cannot tell apart, or was missed: SWITCHES (default 1000) with one fault and as many with two, per
// shipped profile. Exit 1 when fewer than 99 % of the single or 95 % of the double faults of all profiles
// together were first or in the group.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <map>

#include "faulty_bench.hpp"

using namespace faulty_bench;

namespace {

struct Tally {
  int first = 0;
  int in_group = 0;
  int wrong = 0;
  std::size_t group_members = 0;  ///< all groups together, to show that they are small
  int all() const { return first + in_group + wrong; }
  double found_percent() const { return 100.0 * (first + in_group) / std::max(all(), 1); }
  double mean_group() const { return double(group_members) / std::max(all(), 1); }
  void add(const Tally& other) {
    first += other.first;
    in_group += other.in_group;
    wrong += other.wrong;
    group_members += other.group_members;
  }
};

void ask(const Profile& profile, const Knowing& knowing, const Hypothesis& truth, std::mt19937_64& random,
         Tally& tally, std::map<std::string, int>& mistaken) {
  Bench bench(drawn(profile, knowing.library, truth.causes, random), knowing.meter, random());
  const Leads leads = bench.leads();
  const auto findings = measured(profile, bench, knowing.meter, leads);
  const Diagnosis d = explain(profile, knowing.library, findings, {}, knowing.meter, leads, knowing.priors);
  const Explanation& first = d.explanations.front();
  std::vector<std::string> group = first.same_readings_as;
  group.insert(group.end(), first.hides.begin(), first.hides.end());
  tally.group_members += 1 + group.size();
  if (name_of(first.hypothesis) == name_of(truth)) {
    ++tally.first;
  } else if (std::find(group.begin(), group.end(), name_of(truth)) != group.end()) {
    ++tally.in_group;
  } else {
    ++tally.wrong;
    ++mistaken[fmt::format("{} | {} taken for {}", profile.id, name_of(truth), name_of(first.hypothesis))];
  }
}

std::string cells(const Tally& t) {
  return fmt::format("{} | {} | {} | {:.1f} % | {:.1f}", t.first, t.in_group, t.wrong, t.found_percent(),
                     t.mean_group());
}

}  // namespace

int main(int argc, char** argv) {
  const int switches = argc > 1 ? std::max(std::atoi(argv[1]), 1) : 1000;
  const auto seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 20260301ULL;
  const Knowing knowing = what_is_known();
  std::map<std::string, int> mistaken;
  Tally all[2];
  fmt::print("{} switches with one fault and {} with two per profile, seed {}, meter: {}\n\n", switches,
             switches, seed, knowing.meter.title);
  fmt::print(
      "| profile | one fault: first | in its group | wrong | found | group of | two faults: first | in its "
      "group "
      "| wrong | found | group of |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n");
  for (const Profile& profile : knowing.library) {
    Tally of_profile[2];
    std::mt19937_64 random(seed);
    const auto pool = hypotheses(profile, knowing.library, knowing.priors);
    for (std::size_t causes : {1U, 2U}) {
      std::vector<const Hypothesis*> possible;
      for (const Hypothesis& h : pool)
        if (h.causes.size() == causes) possible.push_back(&h);
      for (int i = 0; i < switches; ++i)
        ask(profile, knowing, *possible[random() % possible.size()], random, of_profile[causes - 1],
            mistaken);
      all[causes - 1].add(of_profile[causes - 1]);
    }
    fmt::print("| `{}` | {} | {} |\n", profile.id, cells(of_profile[0]), cells(of_profile[1]));
    std::fflush(stdout);
  }
  fmt::print("| all | {} | {} |\n", cells(all[0]), cells(all[1]));
  std::vector<std::pair<int, std::string>> worst;
  for (const auto& [what, times] : mistaken) worst.emplace_back(times, what);
  std::sort(worst.rbegin(), worst.rend());
  if (!worst.empty()) fmt::print("\nThe commonest mistakes:\n");
  for (std::size_t i = 0; i < std::min<std::size_t>(worst.size(), 25); ++i)
    fmt::print("{} x {}\n", worst[i].first, worst[i].second);
  return all[0].found_percent() >= 99.0 && all[1].found_percent() >= 95.0 ? 0 : 1;
}
