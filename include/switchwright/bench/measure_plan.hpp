// Which readings a qualification takes, and in which order: all of them, the fewest that a pass needs, or those with the
// most telling one next.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/explain/coverage.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/profile/route.hpp"

namespace switchwright {

/// Says what is measured. The session first goes through route(), then asks next() until it gives nothing.
class MeasurePlan {
 public:
  virtual ~MeasurePlan() = default;
  virtual std::string name() const = 0;  ///< "short", "adaptive"; empty: the full plan
  /// What is known at the start.
  virtual std::vector<Placement> route() const = 0;
  /// The reading to take after those in `findings`; nothing when there is enough. `skipped` places are never
  /// asked for.
  virtual std::optional<Place> next(const std::vector<Finding>& findings, const std::vector<Place>& skipped,
                                    const Leads& leads) = 0;
  /// What the plan does without, as far as that is known now.
  virtual LeftOut left_out() const = 0;
  /// What is said before the work starts; empty: nothing to say.
  virtual std::string opening() const = 0;
};

/// "full" (also when empty): everything, in the cheapest order for these hands, and each contact closed again until it
/// was seen to close profile/closings.hpp's closings_wanted times. "short": the readings that a pass needs
/// (explain/coverage.hpp). "adaptive": the most telling reading next; stops early for a fail beyond doubt and for
/// nothing else, so that a pass has all that "short" takes. All references must outlive the plan.
/// @throws Error(usage) for another name, and for "adaptive" without knowledge.
std::unique_ptr<MeasurePlan> make_measure_plan(const std::string& name, const Profile& profile,
                                               const std::vector<Expectation>& expected, const MeterDefinition& meter,
                                               const JudgeSettings& settings, const Knowledge* knowledge,
                                               const RouteCost& cost);

}  // namespace switchwright
