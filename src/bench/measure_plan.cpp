#include "switchwright/bench/measure_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/closings.hpp"

namespace switchwright {

namespace {

class Full final : public MeasurePlan {
 public:
  explicit Full(std::vector<Placement> route) : route_(std::move(route)) {}
  std::string name() const override { return {}; }
  std::vector<Placement> route() const override { return route_; }
  std::optional<Place> next(const std::vector<Finding>&, const std::vector<Place>&, const Leads&) override {
    return {};
  }
  LeftOut left_out() const override { return {}; }
  std::string opening() const override { return {}; }

 private:
  std::vector<Placement> route_;
};

class Short final : public MeasurePlan {
 public:
  Short(std::vector<Placement> route, LeftOut left_out) : route_(std::move(route)), left_out_(std::move(left_out)) {}
  std::string name() const override { return "short"; }
  std::vector<Placement> route() const override { return route_; }
  std::optional<Place> next(const std::vector<Finding>&, const std::vector<Place>&, const Leads&) override {
    return {};
  }
  LeftOut left_out() const override { return left_out_; }
  std::string opening() const override { return left_out_.sentence; }

 private:
  std::vector<Placement> route_;
  LeftOut left_out_;
};

constexpr const char* closed_once =
    " It sees each contact close once at a position, the full plan three times: one that closes unevenly may not show.";

bool holds(const std::vector<Place>& places, const Place& place) {
  return std::find(places.begin(), places.end(), place) != places.end();
}

/// The expectations at these places.
std::vector<Expectation> at(const std::vector<Place>& places, const std::vector<Expectation>& expected) {
  std::vector<Expectation> kept;
  for (const Expectation& e : expected)
    if (e.state != PairState::not_checked && holds(places, {e.position, e.pair})) kept.push_back(e);
  return kept;
}

class Adaptive final : public MeasurePlan {
 public:
  Adaptive(const Profile& profile, const std::vector<Expectation>& expected, const MeterDefinition& meter,
           const JudgeSettings& settings, const Knowledge& knowledge, const AdaptiveThresholds& thresholds,
           const RouteCost& cost)
      : profile_(profile),
        expected_(expected),
        meter_(meter),
        knowledge_(knowledge),
        thresholds_(thresholds),
        needed_(short_plan(profile, expected, meter, settings).places),
        cheapest_(plan_route(profile, at(needed_, expected), cost).placements) {}

  std::string name() const override { return "adaptive"; }
  std::vector<Placement> route() const override { return {}; }

  std::optional<Place> next(const std::vector<Finding>& findings, const std::vector<Place>& skipped,
                            const Leads& leads) override {
    left_out_ = {name(), {}, {}};
    std::vector<Place> possible = unmeasured_places(expected_, findings);
    std::erase_if(possible, [&](const Place& place) { return holds(skipped, place); });
    std::vector<Place> needed = possible;
    std::erase_if(needed, [&](const Place& place) { return !holds(needed_, place); });
    const bool fails =
        std::any_of(findings.begin(), findings.end(), [](const Finding& f) { return f.outcome == Outcome::fail; });
    if (needed.empty() && !fails) {
      left_out_.sentence = fmt::format(
          "The adaptive plan took everything that a pass needs: every contact at every position, everything to exposed metal, "
          "and the fewest others with which every single and double fault shows that the full plan shows ({} readings not "
          "taken).",
          possible.size());
      left_out_.sentence += closed_once;
      left_out_.places = std::move(possible);
      return std::nullopt;
    }
    if (possible.empty()) return std::nullopt;
    // A part that fails is asked about until it is certain why; one that looks good is asked for what a pass needs.
    const AdaptiveStep step = adaptive_step(profile_, knowledge_.others, findings, fails ? possible : needed, meter_,
                                            leads, knowledge_.priors, thresholds_);
    if (step.failed) {
      // Whoever touches a part that fails touches its metal too.
      for (const Placement& placement : cheapest_)
        for (const std::string& position : placement.positions)
          if (const Place place{position, placement.pair}; is_to_metal(place) && holds(needed, place)) return place;
      left_out_.sentence = step.sentence;
      left_out_.places = std::move(possible);
      return std::nullopt;
    }
    if (step.next && !step.looks_good) return step.next->place;
    for (const Placement& placement : cheapest_)
      for (const std::string& position : placement.positions)
        if (holds(needed, {position, placement.pair})) return Place{position, placement.pair};
    return possible.front();
  }

  LeftOut left_out() const override { return left_out_; }
  std::string opening() const override {
    return fmt::format(
        "Adaptive plan: the most telling reading comes next. It ends early only for a fail: with a reading that fails by "
        "itself, a probability of at least {:g} and everything to exposed metal read. A pass takes the {} of {} readings that nothing else can stand in for.",
        thresholds_.fail, needed_.size(), unmeasured_places(expected_, {}).size());
  }

 private:
  bool is_to_metal(const Place& place) const {
    return profile_.is_exposed_metal(place.pair.first()) || profile_.is_exposed_metal(place.pair.second());
  }

  const Profile& profile_;
  const std::vector<Expectation>& expected_;
  const MeterDefinition& meter_;
  const Knowledge& knowledge_;
  AdaptiveThresholds thresholds_;
  std::vector<Place> needed_;  ///< for a pass
  std::vector<Placement> cheapest_;
  LeftOut left_out_{"adaptive", {}, {}};
};

std::unique_ptr<MeasurePlan> shortest(const Profile& profile, const std::vector<Expectation>& expected,
                                      const MeterDefinition& meter, const JudgeSettings& settings,
                                      const RouteCost& cost) {
  const ShortPlan chosen = short_plan(profile, expected, meter, settings);
  LeftOut left_out{"short", {}, chosen.sentence + closed_once};
  for (const Place& place : unmeasured_places(expected, {}))
    if (!holds(chosen.places, place)) left_out.places.push_back(place);
  if (!chosen.never_detected.empty())
    left_out.sentence += " No reading of either plan shows " + joined_with_and(chosen.never_detected) + ".";
  return std::make_unique<Short>(plan_route(profile, at(chosen.places, expected), cost).placements,
                                 std::move(left_out));
}

}  // namespace

std::unique_ptr<MeasurePlan> make_measure_plan(const std::string& name, const Profile& profile,
                                               const std::vector<Expectation>& expected, const MeterDefinition& meter,
                                               const JudgeSettings& settings, const Knowledge* knowledge,
                                               const RouteCost& cost) {
  if (name == "short") return shortest(profile, expected, meter, settings, cost);
  if (name.empty() || name == "full")
    return std::make_unique<Full>(
        with_closings(profile, expected, plan_route(profile, expected, cost).placements, cost));
  if (name != "adaptive")
    throw Error(ErrorKind::usage, "\"" + terminal_safe(name) + "\" is not a plan", "--plan",
                "use full, short or adaptive");
  if (!knowledge)
    throw Error(ErrorKind::usage, "the adaptive plan needs the priors of faults", "--plan", "use full or short");
  return std::make_unique<Adaptive>(profile, expected, meter, settings, *knowledge, AdaptiveThresholds{}, cost);
}

}  // namespace switchwright
