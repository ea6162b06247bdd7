#include "cli/lot/lot_plans.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <numeric>
#include <random>

#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

constexpr std::array severities{"critical", "major", "minor"};

LotClassPlan table_plan(const char* severity, const LotQuality& quality, double aql) {
  (void)quality;
  throw Error(ErrorKind::usage, fmt::format("no plan for {} defects at AQL {:g}", severity, aql), "--agreed", "give an agreed plan");
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
    throw Error(ErrorKind::usage, "\"" + terminal_safe(plan.severity) + "\" is no class of defects", "--agreed", "use critical, major or minor");
  plan.sample_size = static_cast<int>(read_count(text.substr(equals + 1, colon - equals - 1), 1, 500'000, {}, "--agreed"));
  plan.accept = static_cast<int>(read_count(text.substr(colon + 1), 0, 500'000, {}, "--agreed"));
  plan.reject = plan.accept + 1;
  if (plan.accept >= plan.sample_size)
    throw Error(ErrorKind::usage, fmt::format("a plan that accepts with {} defective of {} never rejects", plan.accept, plan.sample_size), "--agreed", how);
  if (plan.severity == "critical" && plan.accept > 0)
    throw Error(ErrorKind::usage, "critical defects are accepted on zero", "--agreed", "write critical=SIZE:0");
  return plan;
}

std::vector<LotClassPlan> class_plans(const LotQuality& quality) {
  std::vector<LotClassPlan> plans;
  const auto plan_for = [&](const char* severity, double aql) {
    for (const LotClassPlan& agreed : quality.agreed)
      if (agreed.severity == severity) return agreed;
    return table_plan(severity, quality, aql);
  };
  LotClassPlan major = plan_for("major", quality.major_aql), minor = plan_for("minor", quality.minor_aql);
  LotClassPlan critical;
  const bool is_agreed = std::any_of(quality.agreed.begin(), quality.agreed.end(), [](const LotClassPlan& p) { return p.severity == "critical"; });
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

std::vector<int> draw_units(int lot_size, int sample_size, const std::string& drawing, std::uint64_t seed) {
  std::mt19937_64 random{seed};
  std::vector<int> units;
  if (drawing == "systematic") {
    // Every k-th from a random start; k is not a whole number, so that the last units are reached too.
    const double step = static_cast<double>(lot_size) / sample_size;
    const double start = step * (static_cast<double>(random() >> 11U) * 0x1p-53);
    for (int i = 0; i < sample_size; ++i) units.push_back(std::min(static_cast<int>(start + i * step) + 1, lot_size));
    return units;
  }
  std::vector<int> carton(static_cast<std::size_t>(lot_size));
  std::iota(carton.begin(), carton.end(), 1);
  for (std::size_t i = 0; i < static_cast<std::size_t>(sample_size); ++i)
    std::swap(carton[i], carton[i + random() % (carton.size() - i)]);
  carton.resize(static_cast<std::size_t>(sample_size));
  return carton;
}

std::vector<LotInHistory> history_of(const Store& store, const std::string& part, const std::string& supplier) {
  std::vector<LotInHistory> history;
  for (const std::string& id : store.lots()) {
    const Record lot = store.load(id);
    if (!lot.lot || !lot.chain_fault.empty() || lot.header.part != part || lot.lot->supplier != supplier) continue;
    const LotCourse course = course_of(lot);
    history.push_back({id, lot.lot->lot_number, lot.header.started, lot.lot->mode,
                       lot.lot_decisions.empty() ? "" : lot.lot_decisions.back().decision, course.done, course.failed});
  }
  return history;
}

ProposedMode proposed_mode(const std::vector<LotInHistory>& history) {
  return {"normal", history.empty() ? "this is the first lot of the part from this supplier, and inspection begins as normal" : "as before", false};
}

}  // namespace switchwright::cli
