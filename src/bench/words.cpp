#include "switchwright/bench/words.hpp"

#include <algorithm>
#include <cctype>

#include "switchwright/core/text.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

/// More than so many undecided readings are counted, not listed.
constexpr std::size_t most_undecided = 6;
constexpr std::size_t most_explanations = 3;

/// Open as it should be, and a position that is still to come will witness that the probes touch.
bool witness_to_come(const Settled& settled) {
  return settled.outlook && settled.outlook->witness == Witness::missing &&
         settled.outlook->expected.state == PairState::open && !settled.needs_contact_statement;
}

template <class Finding>
void add_deviations(std::vector<VerdictLine>& lines, const std::vector<const Finding*>& deviations) {
  for (const Finding* finding : deviations)
    lines.push_back({to_string(finding->severity.value_or(Severity::minor)), finding->sentence, 0});
}

template <class Finding>
void add_undecided(std::vector<VerdictLine>& lines, const std::vector<Finding>& findings, std::size_t& shown) {
  for (const Finding& finding : findings)
    if (finding.outcome == Outcome::undecided && shown++ < most_undecided)
      lines.push_back({"undecided", finding.sentence, 0});
}

/// What was asked and did not pass, and what was not asked at all.
void add_scope(std::vector<VerdictLine>& lines, const Scope& scope, ScopePart part) {
  const ScopeItem& item = scope[part];
  if (item.decided == Decided::pass || (part == ScopePart::stated && !scope.asked(part))) return;
  const std::string decided =
      item.decided == Decided::not_asked ? "not asked for" : to_string(item.decided) + ": " + item.reason;
  lines.push_back({to_string(part), sentences({decided, item.how}), 0});
}

}  // namespace

std::string display_words(const Reading& reading) {
  if (reading.state == ReadingState::over_range)
    return is_resistance(reading.quantity) ? "open (over-range)" : "over-range";
  if (!reading.finite()) return "no number";
  return human_value(reading.value, reading.quantity, reading.resolution);
}

std::string kept_words(const Indication& indication, const std::optional<double>& corrected) {
  if (indication.state == ReadingState::over_range) return is_resistance(indication.quantity) ? "open" : "over-range";
  const double value =
      corrected ? told_value(*corrected, indication.quantity, indication.resolution) : indication.value;
  return human_value(value, indication.quantity, indication.resolution);
}

namespace {

/// Without the leads and the meter's corrections; of a drop's volts the finding holds ohms, which are another quantity.
std::optional<double> corrected_of(const Settled& settled) {
  if (!settled.outlook || !is_resistance(settled.indication.quantity)) return std::nullopt;
  return settled.outlook->corrected;
}

}  // namespace

std::string judged_words(const Settled& settled) {
  if (settled.indication.state == ReadingState::over_range)
    return is_resistance(settled.indication.quantity) ? "open (over-range)" : "over-range";
  return kept_words(settled.indication, corrected_of(settled));
}

std::string difference_words(const Settled& settled) {
  const auto corrected = corrected_of(settled);
  if (!corrected) return {};
  const std::string shown = kept_words(settled.indication, std::nullopt);
  const std::string judged = kept_words(settled.indication, corrected);
  return shown == judged ? "" : "the meter shows " + shown + "; leads and corrections are taken off";
}

std::string outlook_words(const Settled& settled) {
  if (witness_to_come(settled)) return "Open, as it should be. A position to come must show that both probes touch.";
  if (settled.outlook) return settled.outlook->sentence;
  return settled.voltage_outlook ? settled.voltage_outlook->sentence : std::string{};
}

Outcome outlook_outcome(const Settled& settled) {
  if (witness_to_come(settled)) return Outcome::pass;
  return settled.outlook           ? settled.outlook->outcome
         : settled.voltage_outlook ? settled.voltage_outlook->outcome
                                   : Outcome::undecided;
}

std::string contact_question(const Step& step) {
  if (is_drop(step.kind))
    return "So little is also what no current at all looks like. Does the supply show the current?";
  return std::string{step.kind == StepKind::voltage ? "No volts at any position" : "Open at every position"} +
         ": a probe off the metal looks the same. Do both probes touch bare metal?";
}

std::string verdict_word(const Verdict& verdict) {
  std::string word = title_of(verdict);
  for (char& c : word) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return word;
}

std::vector<std::string> verdict_letters(const Verdict& verdict) {
  std::string rest = verdict_word(verdict);
  std::vector<std::string> lines;
  for (auto end = rest.find(' '); end != std::string::npos && lines.size() < 2; end = rest.find(", ")) {
    lines.push_back(rest.substr(0, end));
    rest.erase(0, rest.find_first_not_of(", ", end));
  }
  lines.push_back(rest);
  return lines;
}

std::string headline_beside_word(const Verdict& verdict) {
  // "Fail: 2 of 60 ...": the beginning is shown large already.
  const std::string first = title_of(verdict) + ": ";
  return wording::capitalised(verdict.headline.starts_with(first) ? verdict.headline.substr(first.size())
                                                                  : verdict.headline);
}

std::vector<VerdictLine> verdict_lines(const Verdict& verdict) {
  std::vector<VerdictLine> lines;
  if (std::any_of(scope_parts.begin(), scope_parts.end(), [&](ScopePart part) { return verdict.scope.asked(part); }))
    for (const ScopePart part : scope_parts) add_scope(lines, verdict.scope, part);
  add_deviations(lines, verdict.deviations());
  add_deviations(lines, verdict.voltage_deviations());
  for (const StatedFinding& finding : verdict.stated)
    lines.push_back({finding.outcome == Outcome::fail ? to_string(finding.wanted.severity) : to_string(finding.outcome),
                     finding.sentence, 0});
  for (const InspectionFinding& inspection : verdict.inspection)
    if (inspection.answer == false)
      lines.push_back({to_string(inspection.question.severity), "answered no: " + inspection.question.ask, 0});
  if (verdict.diagnosis) {
    lines.push_back({"", "what explains it", 0});
    for (const ToldLine& line : told(*verdict.diagnosis, most_explanations))
      lines.push_back({"", line.text, static_cast<std::size_t>(line.level) + 1});
  }
  std::size_t shown = 0;
  add_undecided(lines, verdict.findings, shown);
  add_undecided(lines, verdict.voltages, shown);
  if (shown > most_undecided)
    lines.push_back({"undecided", std::to_string(shown - most_undecided) + " more; the report lists them", 0});
  for (const std::string& remark : verdict.remarks) lines.push_back({"note", remark, 0});
  return lines;
}

}  // namespace switchwright
