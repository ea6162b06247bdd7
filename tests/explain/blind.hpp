// The blind test: random faulty switches, a meter with its own errors, and the question whether the fault that was put
// in comes first, or in the group that the readings cannot tell apart; and whether the probabilities are what they say.
// blind_test.cpp runs a few switches, tests/bench/diagnosis/blind_table.cpp prints the tables.
#pragma once

#include <algorithm>
#include <map>
#include <random>
#include <string>
#include <vector>

#include "explain/simulated.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/library.hpp"

namespace blind {

using namespace switchwright;

inline const std::filesystem::path sources{SOURCE_DIR};

/// What everybody at this bench knows.
struct Known {
  std::vector<Profile> library;
  FaultPriors priors;
};
inline Known shipped() {
  Known known;
  for (const std::string& id : list_profiles({sources / "profiles"}))
    known.library.push_back(load_profile(id, {sources / "profiles"}));
  known.priors = load_fault_priors(sources / "profiles/priors/faults.toml");
  return known;
}
inline MeterDefinition shipped_meter(const std::string& id) {
  return load_meter_definition(id, {{sources / "meters"}});
}
/// Every shipped definition that says how well it measures ohms.
inline std::vector<std::string> shipped_meters() {
  std::vector<std::string> ids;
  for (const auto& entry : std::filesystem::directory_iterator(sources / "meters"))
    if (entry.path().extension() == ".toml" &&
        shipped_meter(entry.path().stem().string()).top_of_range(Quantity::resistance))
      ids.push_back(entry.path().stem().string());
  std::sort(ids.begin(), ids.end());
  return ids;
}

/// Of 100 switches with such a fault.
struct Tally {
  int first = 0, in_group = 0, wrong = 0;
  std::size_t group_members = 0;  ///< all groups together, the first explanation included: to show that they are small
  int all() const { return first + in_group + wrong; }
  double first_percent() const { return 100.0 * first / std::max(all(), 1); }
  double found_percent() const { return 100.0 * (first + in_group) / std::max(all(), 1); }
  double mean_group() const { return static_cast<double>(group_members) / std::max(all(), 1); }
  void add(const Tally& other) {
    first += other.first, in_group += other.in_group, wrong += other.wrong;
    group_members += other.group_members;
  }
};

/// Explanations given with a probability in [least, most): how often they were true.
struct Claims {
  double least = 0.9, most = 0.99;
  int made = 0, true_alone = 0, true_or_in_group = 0;
  double promised = 0.0;  ///< sum of the probabilities
};

struct Result {
  Tally tally;
  Claims claims;
  std::map<std::string, int> mistaken;  ///< "truth taken for answer"
};

/// One switch with this fault, measured everywhere and asked about.
inline void ask(const Profile& profile, const Known& known, const MeterDefinition& definition, const Hypothesis& truth,
                const simulated::Draw& draw, std::mt19937_64& random, Result& result) {
  const simulated::Switch part(profile, known.library, truth.causes, random, draw);
  simulated::Meter meter(definition, random);
  const Leads leads = meter.leads();
  const auto findings = simulated::measure(part, meter, definition, profile, expectations(profile), leads);
  const Diagnosis d = explain(profile, known.library, findings, {}, definition, leads, known.priors);
  const std::string name = simulated::label(truth);
  const auto in_group = [&](const Explanation& e) {
    const auto holds = [&](const std::vector<std::string>& names) {
      return std::find(names.begin(), names.end(), name) != names.end();
    };
    return holds(e.same_readings_as) || holds(e.hides);
  };
  for (const Explanation& e : d.explanations) {
    if (e.probability < result.claims.least || e.probability >= result.claims.most) continue;
    const bool alone = simulated::label(e.hypothesis) == name;
    ++result.claims.made;
    result.claims.promised += e.probability;
    result.claims.true_alone += alone;
    result.claims.true_or_in_group += alone || in_group(e);
  }
  const Explanation& first = d.explanations.front();
  result.tally.group_members += 1 + first.same_readings_as.size() + first.hides.size();
  if (simulated::label(first.hypothesis) == name) {
    ++result.tally.first;
  } else if (in_group(first)) {
    ++result.tally.in_group;
  } else {
    ++result.tally.wrong;
    ++result.mistaken[profile.id + ": " + to_string(truth) + " taken for " + to_string(first.hypothesis)];
  }
}

/// `count` switches with `causes` faults each, every fault as likely as any other.
inline Result evenly(const Profile& profile, const Known& known, const MeterDefinition& definition, std::size_t causes,
                     int count, std::uint64_t seed, const simulated::Draw& draw = {}) {
  std::vector<Hypothesis> pool;
  for (const Hypothesis& h : hypotheses(profile, known.library, known.priors, causes > 1))
    if (h.causes.size() == causes) pool.push_back(h);
  std::mt19937_64 random(seed);
  Result result;
  for (int i = 0; i < count; ++i) ask(profile, known, definition, pool[random() % pool.size()], draw, random, result);
  return result;
}

/// `count` switches, good ones among them, as often as the priors say. Of bad contacts one half has 0.1 to 4 ohm, of
/// drifted elements the nearest are just beyond their band.
inline Result by_priors(const Profile& profile, const Known& known, const MeterDefinition& definition, int count,
                        std::uint64_t seed) {
  const auto pool = hypotheses(profile, known.library, known.priors);
  std::vector<double> weights;
  for (const Hypothesis& h : pool) weights.push_back(h.prior);
  std::discrete_distribution<std::size_t> pick(weights.begin(), weights.end());
  std::mt19937_64 random(seed);
  Result result;
  for (int i = 0; i < count; ++i) {
    const bool near = random() % 2 == 0;
    const simulated::Draw draw{near ? profile.limits.sound_max_ohm : 4.0, near ? 4.0 : 126e3, 0.0, 80.0};
    ask(profile, known, definition, pool[pick(random)], draw, random, result);
  }
  return result;
}

}  // namespace blind
