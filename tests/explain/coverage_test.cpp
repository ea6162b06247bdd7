#include "switchwright/explain/coverage.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <bit>
#include <cstdio>
#include <string>
#include <vector>

#include "simulated.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/explain/set_cover.hpp"

using namespace parts;

namespace {

std::vector<std::filesystem::path> profile_folder() {
  return {std::filesystem::path(SOURCE_DIR) / "profiles"};
}

/// The smallest cover by trying every combination of sets.
std::size_t brute_force(std::size_t elements, const std::vector<std::vector<std::size_t>>& sets) {
  std::vector<unsigned> masks;
  unsigned all = 0;
  for (const auto& set : sets) {
    unsigned mask = 0;
    for (std::size_t e : set) mask |= 1u << e;
    masks.push_back(mask);
    all |= mask;
  }
  (void)elements;
  std::size_t best = sets.size();
  for (unsigned choice = 0; choice < (1u << sets.size()); ++choice) {
    unsigned covered = 0;
    for (std::size_t i = 0; i < sets.size(); ++i)
      if (choice >> i & 1) covered |= masks[i];
    if (covered == all) best = std::min(best, static_cast<std::size_t>(std::popcount(choice)));
  }
  return best;
}

}  // namespace

TEST_CASE("the smallest cover is as small as trying every combination finds") {
  CHECK(rc::check([](const std::vector<std::vector<unsigned>>& raw) {
    constexpr std::size_t elements = 12;
    std::vector<std::vector<std::size_t>> sets;
    for (const auto& each : raw) {
      if (sets.size() == 12) break;
      sets.emplace_back();
      for (unsigned e : each) sets.back().push_back(e % elements);
    }
    const Cover cover = smallest_cover(elements, sets);
    RC_ASSERT(cover.exact);
    RC_ASSERT(cover.chosen.size() == brute_force(elements, sets));
    std::vector<char> covered(elements, 0);
    for (std::size_t i : cover.chosen)
      for (std::size_t e : sets[i]) covered[e] = 1;
    for (const auto& set : sets)
      for (std::size_t e : set) RC_ASSERT(covered[e]);
  }));
}

TEST_CASE("a cover that greedy choice gets wrong is found") {
  // Textbook example: greedy takes the set of four first and ends with three; two suffice.
  const std::vector<std::vector<std::size_t>> sets{{0, 1, 2}, {3, 4, 5}, {1, 2, 3, 4}, {0}, {5}};
  CHECK(smallest_cover(6, sets).chosen == std::vector<std::size_t>{0, 1});
}

TEST_CASE("coverage says what is detected and what is not") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const Coverage c = coverage(p, expectations(p), handheld());
  CHECK(c.places.size() == 60);
  const auto find = [&](const std::string& name) {
    return *std::find_if(c.faults.begin(), c.faults.end(),
                         [&](const CoveredFault& f) { return to_string(f.hypothesis) == name; });
  };
  // From the wiring: L1, P and H1 are one node when on and all open at off, so swapping L1 and P changes
  // nothing.
  CHECK_FALSE(find("swapped:L1,P").detected());
  CHECK(find("swapped:L1,P").same_readings_as == std::vector<std::string>{"none"});
  // A welded cycling contact shows at off only: in the pairs that it joins.
  const CoveredFault welded = find("stuck-closed:cycling");
  CHECK(welded.detected());
  CHECK(welded.isolated());
  for (std::size_t i : welded.detected_by) CHECK(c.places[i].position == "off");
  // An open pilot contact shows wherever P should be reached, at every position but off.
  for (std::size_t i : find("stuck-open:pilot").detected_by) {
    CHECK(c.places[i].pair.has("P"));
    CHECK(c.places[i].position != "off");
  }
  CHECK(find("open:heater").detected());
  CHECK(find("resistive:line=10").detected());
}

TEST_CASE("the short plan detects every single fault with the fewest readings") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const auto expected = expectations(p);
  const ShortPlan plan = short_plan(p, expected, handheld());
  std::puts(plan.sentence.c_str());
  CHECK(plan.proven_smallest);
  CHECK(plan.places.size() < 32);
  CHECK(plan.left_out + plan.places.size() == 60);
  // Five terminals to CASE at four positions, and each contact once, are never left out.
  const std::vector<Place> always = never_left_out(p, expected);
  CHECK(std::count_if(always.begin(), always.end(), [](const Place& place) { return place.pair.has("CASE"); }) == 20);
  for (const char* pair : {"L1-H1", "L1-P", "L2-H2"})
    CHECK(std::any_of(always.begin(), always.end(), [&](const Place& place) { return place.pair.text() == pair; }));
  for (const Place& place : always) CHECK(std::find(plan.places.begin(), plan.places.end(), place) != plan.places.end());
  // Independent of the search: each detectable fault is detected by a reading of the plan, and no other reading can
  // be spared.
  const Coverage c = coverage(p, expected, handheld());
  const auto detects = [&](const CoveredFault& f, const std::vector<Place>& places) {
    return std::any_of(f.detected_by.begin(), f.detected_by.end(), [&](std::size_t i) {
      return std::find(places.begin(), places.end(), c.places[i]) != places.end();
    });
  };
  std::size_t never = 0;
  for (const CoveredFault& f : c.faults) {
    if (!f.detected()) ++never;
    if (f.detected()) CHECK(detects(f, plan.places));
  }
  CHECK(never == plan.never_detected.size());
  for (std::size_t left_out = 0; left_out < plan.places.size(); ++left_out) {
    if (std::find(always.begin(), always.end(), plan.places[left_out]) != always.end()) continue;
    std::vector<Place> fewer = plan.places;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(left_out));
    CHECK_FALSE(std::all_of(c.faults.begin(), c.faults.end(),
                            [&](const CoveredFault& f) { return !f.detected() || detects(f, fewer); }));
  }
}

TEST_CASE("an adaptive qualification ends right and with far fewer readings") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const auto expected = expectations(p);
  const FaultPriors priors =
      load_fault_priors(std::filesystem::path(SOURCE_DIR) / "profiles/priors/faults.toml");
  const Coverage c = coverage(p, expected, handheld());
  // The good part, then every fault that some reading detects, as often as its prior weight says.
  std::vector<Hypothesis> pool{{}};
  std::vector<double> weights;
  for (const Hypothesis& h : hypotheses(p, {}, priors, false))
    if (!h.good() && std::any_of(c.faults.begin(), c.faults.end(), [&](const CoveredFault& f) {
          return f.detected() && simulated::label(f.hypothesis) == simulated::label(h);
        })) {
      pool.push_back(h);
      weights.push_back(h.prior);
    }
  std::discrete_distribution<std::size_t> pick(weights.begin(), weights.end());
  std::mt19937_64 random(11);
  std::size_t readings_good = 0, readings_bad = 0, bad = 0, good = 0, wrong = 0, undecided = 0;
  for (int run = 0; run < 60; ++run) {
    const bool is_good = run % 3 == 0;
    const Hypothesis& truth = is_good ? pool[0] : pool[1 + pick(random)];
    const simulated::Switch part(p, {}, truth.causes, random);
    simulated::Meter meter(handheld(), random);
    const Leads leads = meter.leads();
    std::vector<Place> left = simulated::places_of(expected);
    std::vector<Finding> findings;
    AdaptiveStep step = adaptive_step(p, {}, findings, left, handheld(), leads, priors);
    while (!step.decided && step.next) {
      const Place place = step.next->place;
      left.erase(std::find(left.begin(), left.end(), place));
      const Indication i = meter.read(part.ohm(place));
      findings.push_back(judge(expectation(p, place.position, place.pair), i,
                               i.state == ReadingState::finite ? Witness::not_needed : Witness::stated, p,
                               handheld(), leads, {}));
      step = adaptive_step(p, {}, findings, left, handheld(), leads, priors);
    }
    if (!step.decided) {
      ++undecided;
      std::printf("  undecided: %s, conforming %.4f after %zu readings\n", to_string(truth).c_str(),
                  step.conforming_probability, findings.size());
    }
    if (step.decided && (step.outcome == Outcome::pass) != is_good) {
      ++wrong;
      std::printf("  wrong: %s, %s\n", to_string(truth).c_str(), step.sentence.c_str());
    }
    (is_good ? readings_good : readings_bad) += findings.size();
    ++(is_good ? good : bad);
  }
  std::printf(
      "adaptive: good parts %.1f readings, faulty parts %.1f readings of 60; wrong %zu, undecided %zu of "
      "60\n",
      static_cast<double>(readings_good) / static_cast<double>(good),
      static_cast<double>(readings_bad) / static_cast<double>(bad), wrong, undecided);
  CHECK(wrong == 0);
  CHECK(undecided <= 3);
  CHECK(readings_bad / bad < 20);
}

TEST_CASE("only a part whose positions have angles can have its knob set wrongly") {
  const auto clocked = [](const char* id) {
    const auto all = hypotheses(load_profile(id, {std::string(SOURCE_DIR) + "/profiles"}), {}, {}, false);
    return std::any_of(all.begin(), all.end(), [](const Hypothesis& h) {
      return !h.good() && h.causes.front().kind == CauseKind::fault &&
             h.causes.front().fault.kind == FaultKind::clocked;
    });
  };
  CHECK(clocked("regulator-shunt-240"));
  CHECK_FALSE(clocked("interlock-door"));
  CHECK_FALSE(clocked("contactor-two-pole"));
}
