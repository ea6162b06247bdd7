// Everything measured under power, taken together, and the verdict over both parts of a job.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge_voltage.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

using Spot = std::pair<std::string, Pair>;  // position, pair

std::size_t count_of(const std::vector<VoltageFinding>& findings, Outcome outcome) {
  return static_cast<std::size_t>(
      std::count_if(findings.begin(), findings.end(), [&](const VoltageFinding& f) { return f.outcome == outcome; }));
}

std::string count_words(std::size_t count) { return wording::count_of(count, "voltage"); }

/// By a supply that is wrong nothing fails; what stood live is said all the same.
void excuse_by_supply(VoltageFinding& finding, const std::string& why, std::vector<std::string>& remarks) {
  if (!finding.kind) return;
  if (*finding.kind == DeviationKind::live)
    remarks.push_back(finding.sentence + " Whatever the supply: do not use the part before it is measured again.");
  finding.outcome = Outcome::undecided;
  finding.kind.reset();
  finding.severity.reset();
  finding.sentence += " " + why;
}

/// What is known of the supply over the whole of the work.
struct SupplyKnown {
  bool right = false;  ///< in its range at both ends, and right to earth, at every position where that was read
  bool wrong = false;  ///< known not to be
};

SupplyKnown supply_known(const Verdict& verdict) {
  const auto of_it = [&](Outcome outcome) {
    return count_of(verdict.supply, outcome) +
           static_cast<std::size_t>(std::count_if(
               verdict.voltages.begin(), verdict.voltages.end(),
               [&](const VoltageFinding& f) { return f.expected.of_the_supply && f.outcome == outcome; }));
  };
  SupplyKnown known;
  known.wrong = of_it(Outcome::fail) > 0;
  known.right = verdict.supply.size() == 2 && of_it(Outcome::fail) + of_it(Outcome::undecided) == 0;
  return known;
}

void excuse_what_the_supply_did(Verdict& verdict, const SupplyKnown& known) {
  for (VoltageFinding& finding : verdict.voltages) {
    const bool too_little_or_too_much =
        finding.kind == DeviationKind::low_voltage || finding.kind == DeviationKind::out_of_band;
    if (known.wrong)
      excuse_by_supply(finding, "The supply was not what the profile says: that alone may be the reason.",
                       verdict.remarks);
    else if (!known.right && (verdict.supply.size() < 2 || too_little_or_too_much))
      excuse_by_supply(finding, "The supply is not known to have been right: that alone may be the reason.",
                       verdict.remarks);
  }
}

/// Voltages to exposed metal mean what they should only while the metal is at earth.
void mind_the_bonds(Verdict& verdict, const std::vector<BondReadings>& bonds, const Profile& profile,
                    const MeterDefinition& meter, const JudgeSettings& settings) {
  for (const std::string& metal : bonded_metal(profile)) {
    const auto read = std::find_if(bonds.begin(), bonds.end(), [&](const BondReadings& b) { return b.metal == metal; });
    bool proven = read != bonds.end() && read->before && read->after;
    if (read != bonds.end())
      for (const std::optional<Indication>* indication : {&read->before, &read->after}) {
        if (!*indication) continue;
        const BondFinding bond = judge_bond(metal, **indication, profile, meter, settings);
        proven = proven && bond.outcome == Outcome::pass;
        if (bond.outcome != Outcome::pass || indication == &read->after) verdict.remarks.push_back(bond.sentence);
      }
    if (proven) continue;
    verdict.remarks.push_back(fmt::format(
        "The bond of {} to earth is not proven before and after: what was read to it is undecided. Measure it in ohms with "
        "the supply off.",
        metal));
    for (VoltageFinding& finding : verdict.voltages)
      if (finding.expected.pair.has(metal)) {
        finding.outcome = Outcome::undecided;
        finding.kind.reset();
        finding.severity.reset();
      }
  }
}

std::optional<double> supply_v_of(const SupplyReadings& supply) {
  if (!supply.at_start || supply.at_start->state != ReadingState::finite) return std::nullopt;
  return std::abs(supply.at_start->value);
}

void remark_on_cycling(const std::vector<VoltageFinding>& findings, std::vector<std::string>& remarks) {
  if (std::none_of(findings.begin(), findings.end(),
                   [](const VoltageFinding& f) { return f.expected.state == VoltageState::cycles; }))
    return;
  remarks.push_back(
      "Where a contact cycles, a pair is right both live and dead: single readings prove no cycling. On and off times need "
      "a trace under power.");
}

/// What failed is not passed by reading it again. A probe off the metal shows no volts: too few may have been the probe, where
/// it was placed again; volts where there must be none were there.
void mind_what_failed_before(const VoltageFinding& before, bool given_up, Verdict& verdict) {
  VoltageFinding& now = verdict.voltages.back();
  if (before.outcome != Outcome::fail || now.outcome == Outcome::fail) return;
  const bool too_few = before.kind == DeviationKind::dead || before.kind == DeviationKind::low_voltage;
  if (given_up && too_few) {
    verdict.remarks.push_back("Placed again; before that: " + before.sentence);
    return;
  }
  if (now.outcome == Outcome::pass)
    now.sentence +=
        " It had failed before it was read again: a contact that does not open or close alike each time fails once and passes "
        "once. Measure the whole part anew, in a record of its own.";
  now.outcome = Outcome::undecided;
  verdict.remarks.push_back("Measured again after it had failed: " + before.sentence);
}

ScopeItem voltages_item(const Verdict& verdict, const Profile& profile, bool supply_is_right) {
  Scope scope;
  constexpr ScopePart part = ScopePart::voltages;
  const std::size_t total = verdict.voltages.size();
  const std::size_t failed = count_of(verdict.voltages, Outcome::fail);
  const std::size_t undecided = count_of(verdict.voltages, Outcome::undecided);
  const std::size_t missing = verdict.voltages_not_measured.size();
  const char* const again = "See what is undecided and what to do about it, and measure again.";
  if (failed > 0) {
    const VoltageFinding* worst = verdict.voltage_deviations().front();
    scope.fails(part, fmt::format("{} of {} deviate{}; the worst: at {}, {} {} ({})", failed, count_words(total),
                                  failed == 1 ? "s" : "", wording::place(profile, worst->expected.position),
                                  worst->expected.pair.text(), to_string(*worst->kind), to_string(*worst->severity)));
  } else if (!supply_is_right) {
    scope.undecided(part, "the supply is not known to be what the profile says, and the part cannot be judged by it",
                    "Put the supply right and measure again.");
  } else if (total == 0) {
    scope.undecided(part, "no voltage was measured", again);
  } else if (undecided > 0 || missing > 0) {
    std::vector<std::string> parts;
    if (undecided > 0) parts.push_back(count_words(undecided) + " could not be decided");
    if (missing > 0) parts.push_back(fmt::format("{} of {} not measured", missing, count_words(total + missing)));
    scope.undecided(part, joined_with_and(parts), again);
  } else {
    scope.passes(part, fmt::format("under power all {} are inside their limits", count_words(total)));
  }
  return scope[part];
}

}  // namespace

Verdict judge_voltages(const Profile& profile, const std::vector<VoltageExpectation>& expected,
                       const std::vector<MeasuredVoltage>& measured, const SupplyReadings& supply,
                       const MeterDefinition& meter, const JudgeSettings& settings,
                       const std::vector<BondReadings>& bonds) {
  std::map<Spot, const VoltageExpectation*> wanted;
  for (const VoltageExpectation& e : expected)
    if (can_be_read(e)) wanted.emplace(Spot{e.position, e.pair}, &e);

  Verdict verdict;
  if (supply.at_start)
    verdict.supply.push_back(judge_supply(*supply.at_start, "at the start", profile, meter, settings));
  if (supply.at_end) verdict.supply.push_back(judge_supply(*supply.at_end, "at the end", profile, meter, settings));

  // The last attempt counts; the place in the list is that of the first.
  std::vector<Spot> order;
  std::map<Spot, const MeasuredVoltage*> last;
  for (const MeasuredVoltage& m : measured) {
    const Spot place{m.position, m.pair};
    if (!wanted.contains(place) || m.given_up) continue;
    if (!last.contains(place)) order.push_back(place);
    last[place] = &m;
  }
  for (const Spot& place : order) {
    const VoltageContext context{supply_v_of(supply), witness_of(*last[place], measured, expected, profile)};
    verdict.voltages.push_back(
        judge_voltage(*wanted[place], last[place]->indication, profile, meter, settings, context));
    for (const MeasuredVoltage& m : measured)
      if (m.position == place.first && m.pair == place.second && &m != last[place])
        mind_what_failed_before(judge_voltage(*wanted[place], m.indication, profile, meter, settings,
                                              {supply_v_of(supply), witness_of(m, measured, expected, profile)}),
                                m.given_up, verdict);
  }
  const SupplyKnown supply_is = supply_known(verdict);
  excuse_what_the_supply_did(verdict, supply_is);
  excuse_missing_volts(verdict.voltages);
  mind_the_bonds(verdict, bonds, profile, meter, settings);
  for (const VoltageExpectation& e : expected)
    if (can_be_read(e) && !last.contains(Spot{e.position, e.pair})) verdict.voltages_not_measured.push_back(e);

  for (const VoltageFinding& f : verdict.supply)
    if (f.outcome != Outcome::pass) verdict.remarks.push_back(f.sentence + " Put the supply right and measure again.");
  if (supply_is.wrong)
    for (const VoltageFinding& f : verdict.voltages)
      if (f.expected.of_the_supply && f.outcome == Outcome::undecided && f.volts) {
        verdict.remarks.push_back(f.sentence + " No part between these two points does that.");
        break;
      }
  if (!measured.empty() && verdict.supply.size() < 2)
    verdict.remarks.push_back(
        "The supply was not read both at the start and at the end: what it was meanwhile is not known.");
  remark_on_cycling(verdict.voltages, verdict.remarks);
  if (count_of(verdict.voltages, Outcome::pass) > 0)
    verdict.remarks.push_back(
        "Dead means no voltage at the moment of the reading. A control is never the means of disconnection: unplug or lock "
        "out before anybody touches the wiring.");
  verdict.scope[ScopePart::voltages] = voltages_item(verdict, profile, supply_is.right);
  conclude(verdict);
  return verdict;
}

Verdict joined(Verdict continuity, Verdict powered) {
  Verdict both = std::move(continuity);
  both.scope[ScopePart::voltages] = powered.scope[ScopePart::voltages];
  conclude(both);
  both.voltages = std::move(powered.voltages);
  both.voltages_not_measured = std::move(powered.voltages_not_measured);
  both.supply = std::move(powered.supply);
  both.remarks.insert(both.remarks.end(), powered.remarks.begin(), powered.remarks.end());
  return both;
}

}  // namespace switchwright
