#include "cli/lot/lot_plans.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/lot/plan.hpp"
#include "switchwright/lot/switching.hpp"

namespace switchwright::cli {

namespace {

constexpr std::array severities{"critical", "major", "minor"};

LotClassPlan table_plan_of(const char* severity, const LotQuality& quality, double aql) {
  const SamplingPlan plan =
      sampling_plan(quality.size, inspection_level_named(quality.level), aql, inspection_mode_named(quality.mode));
  return {severity,    aql,        std::string(1, plan.table.letter), static_cast<int>(plan.sample_size),
          plan.accept, plan.reject};
}

}  // namespace

LotClassPlan agreed_plan(const std::string& text) {
  const char* how = "write CLASS=SIZE:ACCEPT, like major=50:1";
  const auto equals = text.find('='), colon = text.find(':');
  if (equals == std::string::npos || colon == std::string::npos || colon < equals)
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is no plan", "--agreed", how);
  LotClassPlan plan;
  plan.severity = text.substr(0, equals);
  if (std::find(severities.begin(), severities.end(), plan.severity) == severities.end())
    throw Error(ErrorKind::usage, "\"" + terminal_safe(plan.severity) + "\" is no class of defects", "--agreed",
                "use critical, major or minor");
  plan.sample_size =
      static_cast<int>(read_count(text.substr(equals + 1, colon - equals - 1), 1, 500'000, {}, "--agreed"));
  plan.accept = static_cast<int>(read_count(text.substr(colon + 1), 0, 500'000, {}, "--agreed"));
  plan.reject = plan.accept + 1;
  if (plan.accept >= plan.sample_size)
    throw Error(ErrorKind::usage,
                fmt::format("a plan that accepts with {} defective of {} never rejects", plan.accept, plan.sample_size),
                "--agreed", how);
  if (plan.severity == "critical" && plan.accept > 0)
    throw Error(ErrorKind::usage, "critical defects are accepted on zero", "--agreed", "write critical=SIZE:0");
  return plan;
}

std::vector<LotClassPlan> class_plans(const LotQuality& quality) {
  std::vector<LotClassPlan> plans;
  const auto plan_for = [&](const char* severity, double aql) {
    for (const LotClassPlan& agreed : quality.agreed)
      if (agreed.severity == severity) return agreed;
    return table_plan_of(severity, quality, aql);
  };
  LotClassPlan major = plan_for("major", quality.major_aql), minor = plan_for("minor", quality.minor_aql);
  LotClassPlan critical;
  const bool is_agreed = std::any_of(quality.agreed.begin(), quality.agreed.end(),
                                     [](const LotClassPlan& p) { return p.severity == "critical"; });
  if (is_agreed || quality.critical_aql > 0.0) {
    critical = plan_for("critical", quality.critical_aql);
  } else {
    critical.sample_size = std::max(major.sample_size, minor.sample_size);
  }
  critical.severity = "critical";
  critical.accept = 0;
  critical.reject = 1;
  for (LotClassPlan* plan : {&critical, &major, &minor}) {
    plan->sample_size = std::min(plan->sample_size, quality.size);
    plans.push_back(*plan);
  }
  return plans;
}

std::vector<LotInHistory> history_of(const Store& store, const std::string& part, const std::string& supplier) {
  std::vector<LotInHistory> history;
  for (const std::string& id : store.lots()) {
    const Record lot = store.load(id);
    if (!lot.lot || !lot.chain_fault.empty() || name_key(lot.header.part) != name_key(part) ||
        name_key(lot.lot->supplier) != name_key(supplier))
      continue;
    const LotCourse course = course_of(lot);
    history.push_back({id, lot.lot->lot_number, lot.header.started, lot.lot->mode,
                       lot.lot_decisions.empty() ? "" : lot.lot_decisions.back().decision, course.done, course.failed,
                       std::any_of(course.classes.begin(), course.classes.end(),
                                   [](const LotClassCount& c) { return c.between_numbers; }),
                       lot.lot->resubmits.empty(), lot.lot->corrective_action, lot.lot->reduced_limit});
  }
  return history;
}

ProposedMode proposed_mode(const std::vector<LotInHistory>& history, std::optional<long> reduced_limit) {
  SwitchingAgreement agreement;
  agreement.limit_number = reduced_limit;
  agreement.production_steady = agreement.reduced_is_desired = reduced_limit.has_value();
  SwitchingState state;
  for (const LotInHistory& lot : history) {
    if (!lot.corrective_action.empty()) state = after_corrective_action(state);
    if (lot.decision != "accept" && lot.decision != "reject") continue;
    InspectedLot one;
    one.accepted = lot.decision == "accept";
    one.original = lot.original;
    one.between_numbers = lot.between_numbers;
    one.inspected = inspection_mode_named(lot.mode);
    one.sample = lot.sample;
    one.defective = lot.defective;
    state = after_lot(state, one, agreement);
  }
  return {to_string(state.mode), state.reason, state.discontinued};
}

}  // namespace switchwright::cli
