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
  Short(std::vector<Placement> route, LeftOut left_out)
      : route_(std::move(route)), left_out_(std::move(left_out)) {}
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

/// The places as the cheapest order of all comes by them.
std::vector<Place> in_order(const std::vector<Placement>& all, const std::vector<Place>& places) {
  std::vector<Place> ordered;
  for (const Placement& placement : all)
    for (const std::string& position : placement.positions)
      if (const Place place{position, placement.pair}; std::find(places.begin(), places.end(), place) != places.end())
        ordered.push_back(place);
  return ordered;
}

class Adaptive final : public MeasurePlan {
 public:
  Adaptive(const Profile& profile, const std::vector<Expectation>& expected, const MeterDefinition& meter,
           const Knowledge& knowledge, const AdaptiveThresholds& thresholds, std::vector<Placement> all)
      : profile_(profile),
        expected_(expected),
        meter_(meter),
        knowledge_(knowledge),
        thresholds_(thresholds),
        all_(std::move(all)),
        always_(in_order(all_, never_left_out(profile, expected))) {}

  std::string name() const override { return "adaptive"; }
  std::vector<Placement> route() const override { return {}; }

  std::optional<Place> next(const std::vector<Finding>& findings, const std::vector<Place>& skipped,
                            const Leads& leads) override {
    left_out_ = {name(), {}, {}};
    std::vector<Place> possible = unmeasured_places(expected_, findings);
    std::erase_if(possible, [&](const Place& place) {
      return std::find(skipped.begin(), skipped.end(), place) != skipped.end();
    });
    if (possible.empty()) return std::nullopt;
    const auto must = std::find_if(always_.begin(), always_.end(), [&](const Place& place) {
      return std::find(possible.begin(), possible.end(), place) != possible.end();
    });
    const AdaptiveStep step = adaptive_step(profile_, knowledge_.others, findings, possible, meter_, leads,
                                            knowledge_.priors, thresholds_);
    if (step.decided && must != always_.end()) return *must;
    if (step.decided) {
      left_out_.sentence = step.sentence;
      if (step.outcome == Outcome::pass)
        left_out_.sentence +=
            " A pass by this plan trusts the stated priors of faults; the full plan does not.";
      left_out_.places = std::move(possible);
      return std::nullopt;
    }
    if (step.next) return step.next->place;
    for (const Placement& placement : all_)
      for (const std::string& position : placement.positions)
        if (const Place place{position, placement.pair};
            std::find(possible.begin(), possible.end(), place) != possible.end())
          return place;
    return std::nullopt;
  }

  LeftOut left_out() const override { return left_out_; }
  std::string opening() const override {
    return fmt::format(
        "Adaptive plan: the most telling reading comes next, and the work stops when the part keeps its "
        "limits with a "
        "probability of at least {:g}, or does not with at least {:g} and a reading that fails by itself.",
        thresholds_.pass, thresholds_.fail);
  }

 private:
  const Profile& profile_;
  const std::vector<Expectation>& expected_;
  const MeterDefinition& meter_;
  const Knowledge& knowledge_;
  AdaptiveThresholds thresholds_;
  std::vector<Placement> all_;
  std::vector<Place> always_;  ///< what is read in any case, in the cheapest order
  LeftOut left_out_{"adaptive", {}, {}};
};

bool holds(const std::vector<Place>& places, const Expectation& e) {
  return std::any_of(places.begin(), places.end(),
                     [&](const Place& p) { return p.position == e.position && p.pair == e.pair; });
}

std::unique_ptr<MeasurePlan> shortest(const Profile& profile, const std::vector<Expectation>& expected,
                                      const MeterDefinition& meter, const JudgeSettings& settings,
                                      const RouteCost& cost) {
  const ShortPlan chosen = short_plan(profile, expected, meter, settings);
  std::vector<Expectation> kept;
  LeftOut left_out{"short", {}, chosen.sentence};
  for (const Expectation& e : expected) {
    if (e.state == PairState::not_checked) continue;
    if (holds(chosen.places, e))
      kept.push_back(e);
    else
      left_out.places.push_back({e.position, e.pair});
  }
  if (!chosen.never_detected.empty())
    left_out.sentence += " No reading of either plan shows " + joined_with_and(chosen.never_detected) + ".";
  return std::make_unique<Short>(plan_route(profile, kept, cost).placements, std::move(left_out));
}

}  // namespace

std::unique_ptr<MeasurePlan> make_measure_plan(const std::string& name, const Profile& profile,
                                               const std::vector<Expectation>& expected,
                                               const MeterDefinition& meter, const JudgeSettings& settings,
                                               const Knowledge* knowledge, const RouteCost& cost) {
  if (name == "short") return shortest(profile, expected, meter, settings, cost);
  std::vector<Placement> all = plan_route(profile, expected, cost).placements;
  if (name.empty() || name == "full") return std::make_unique<Full>(with_closings(profile, expected, all, cost));
  if (name != "adaptive")
    throw Error(ErrorKind::usage, "\"" + terminal_safe(name) + "\" is not a plan", "--plan",
                "use full, short or adaptive");
  if (!knowledge)
    throw Error(ErrorKind::usage, "the adaptive plan needs the priors of faults", "--plan",
                "use full or short");
  return std::make_unique<Adaptive>(profile, expected, meter, *knowledge, AdaptiveThresholds{},
                                    std::move(all));
}

}  // namespace switchwright
