#include "switchwright/explain/coverage.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <bit>
#include <cstdio>
#include <string>
#include <vector>

#include "simulated.hpp"
#include "switchwright/explain/set_cover.hpp"
#include "switchwright/profile/library.hpp"

using namespace parts;

namespace {

std::vector<std::filesystem::path> profile_folder() { return {std::filesystem::path(SOURCE_DIR) / "profiles"}; }

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

TEST_CASE("the short plan leaves out nothing that a pass needs") {
  for (const char* id : {"regulator-shunt-240", "relay-changeover", "selector-three-heat", "regulator-series-240"}) {
    const Profile p = load_profile(id, profile_folder());
    const auto expected = expectations(p);
    const ShortPlan plan = short_plan(p, expected, handheld());
    std::puts(plan.sentence.c_str());
    CAPTURE(id);
    CHECK(plan.left_out > 0);
    const auto takes = [&](const std::string& position, const Pair& pair) {
      return std::find(plan.places.begin(), plan.places.end(), Place{position, pair}) != plan.places.end();
    };
    // Every reading to exposed metal, and every contact in its closed and its open state between its own terminals.
    for (const Expectation& e : expected) {
      if (e.state == PairState::not_checked) continue;
      CAPTURE(e.position);
      CAPTURE(e.pair.text());
      if (p.is_exposed_metal(e.pair.first()) || p.is_exposed_metal(e.pair.second())) CHECK(takes(e.position, e.pair));
      for (const Contact& contact : p.contacts)
        if (contact.between == e.pair) CHECK(takes(e.position, e.pair));
    }
    // Independent of the search: what any reading detects, some reading of the plan detects.
    const Coverage c = coverage(p, expected, handheld());
    std::size_t never = 0;
    for (const CoveredFault& f : c.faults) {
      if (!f.detected()) {
        ++never;
        continue;
      }
      CAPTURE(to_string(f.hypothesis));
      CHECK(std::any_of(f.detected_by.begin(), f.detected_by.end(),
                        [&](std::size_t i) { return takes(c.places[i].position, c.places[i].pair); }));
    }
    CHECK(never == plan.never_detected.size());
  }
}

TEST_CASE("double faults that the full plan finds are found by the short plan, too") {
  // By nodal analysis and the judgement itself, on random doubles with random values.
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const auto expected = expectations(p);
  const ShortPlan plan = short_plan(p, expected, handheld());
  std::vector<Hypothesis> doubles;
  for (const Hypothesis& h : hypotheses(p, {}, {}, true))
    if (h.causes.size() == 2) doubles.push_back(h);
  std::mt19937_64 random(4);
  for (int run = 0; run < 200; ++run) {
    const Hypothesis& truth = doubles[random() % doubles.size()];
    const simulated::Switch part(p, {}, truth.causes, random, {20.0, 1e5, 20.0, 80.0});
    simulated::Meter meter(handheld(), random);
    const Leads leads = meter.leads();
    bool full = false, shorter = false;
    for (const Finding& f : simulated::measure(part, meter, handheld(), p, expected, leads)) {
      if (f.outcome != Outcome::fail) continue;
      full = true;
      const Place place{f.expected.position, f.expected.pair};
      shorter = shorter || std::find(plan.places.begin(), plan.places.end(), place) != plan.places.end();
    }
    CAPTURE(to_string(truth));
    CHECK(full == shorter);
  }
}

TEST_CASE("an adaptive qualification stops early for a fail and for nothing else") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const auto expected = expectations(p);
  const FaultPriors priors = load_fault_priors(std::filesystem::path(SOURCE_DIR) / "profiles/priors/faults.toml");
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
  std::size_t readings = 0, bad = 0, early = 0;
  for (int run = 0; run < 45; ++run) {
    const bool is_good = run % 3 == 0;
    const Hypothesis& truth = is_good ? pool[0] : pool[1 + pick(random)];
    const simulated::Switch part(p, {}, truth.causes, random);
    simulated::Meter meter(handheld(), random);
    const Leads leads = meter.leads();
    std::vector<Place> left = simulated::places_of(expected);
    std::vector<Finding> findings;
    AdaptiveStep step = adaptive_step(p, {}, findings, left, handheld(), leads, priors);
    while (!step.failed && !left.empty()) {
      const Place place = step.next ? step.next->place : left.front();
      left.erase(std::find(left.begin(), left.end(), place));
      const Indication i = meter.read(part.ohm(place));
      findings.push_back(judge(expectation(p, place.position, place.pair), i,
                               i.state == ReadingState::finite ? Witness::not_needed : Witness::stated, p, handheld(),
                               leads, {}));
      step = adaptive_step(p, {}, findings, left, handheld(), leads, priors);
    }
    CAPTURE(to_string(truth));
    CHECK((is_good ? !step.failed && left.empty() : step.failed));
    if (is_good) continue;
    ++bad;
    readings += findings.size();
    early += !left.empty();
  }
  std::printf("adaptive: faulty parts %.1f readings of 60\n", static_cast<double>(readings) / static_cast<double>(bad));
  CHECK(early == bad);
  CHECK(readings / bad < 20);
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
