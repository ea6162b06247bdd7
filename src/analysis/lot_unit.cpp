#include "switchwright/analysis/lot_unit.hpp"

#include <optional>

#include "switchwright/record/record_json.hpp"

namespace switchwright {

std::string worst_severity(const Verdict& verdict) {
  std::optional<Severity> worst;
  const auto rank = [](Severity severity) {
    return severity == Severity::critical ? 2 : severity == Severity::major ? 1 : 0;
  };
  const auto take = [&](Severity severity) {
    if (!worst || rank(severity) > rank(*worst)) worst = severity;
  };
  for (const Finding& finding : verdict.findings)
    if (finding.outcome == Outcome::fail) take(finding.severity.value_or(Severity::critical));
  for (const VoltageFinding& finding : verdict.voltages)
    if (finding.outcome == Outcome::fail) take(finding.severity.value_or(Severity::critical));
  for (const InspectionFinding& finding : verdict.inspection)
    if (finding.answer == false) take(finding.question.severity);
  for (const StatedFinding& finding : verdict.stated)
    if (finding.outcome == Outcome::fail) take(finding.wanted.severity);
  if (verdict.outcome == Outcome::fail && !worst) return "critical";  // nobody can say how bad it is
  return worst ? word_for(*worst) : std::string{};
}

LotUnitRow tested_row(const Record& record) {
  LotUnitRow row;
  row.what = "tested";
  row.serial = record.header.serial;
  row.record = record.header.id;
  row.record_head = record.chain_head;
  row.plan = record.header.plan.empty() ? "full" : record.header.plan;
  row.outcome = word_for(record.verdict->outcome);
  if (record.verdict->outcome == Outcome::fail) row.severity = worst_severity(*record.verdict);
  row.text = record.verdict->headline;
  row.operator_name = record.header.operator_name;
  return row;
}

}  // namespace switchwright
