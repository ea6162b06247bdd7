#include "switchwright/analysis/lot_values.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

using Units = std::vector<std::pair<LotPlaceState, Record>>;

/// Of one pair the reading of this state that counts: of a contact the highest, of an element the first.
const Finding* finding_of(const Record& record, const Pair& pair, PairState state) {
  const Finding* best = nullptr;
  if (!record.verdict) return best;
  for (const Finding& finding : record.verdict->findings) {
    if (!(finding.expected.pair == pair) || finding.expected.state != state || !finding.corrected || !finding.U)
      continue;
    if (!best || (state == PairState::closed && *finding.corrected > *best->corrected)) best = &finding;
  }
  return best;
}

LotMeasurand measured(const Units& units, std::string name, const Pair& pair, PairState state) {
  LotMeasurand measurand;
  measurand.name = fmt::format("{} ({})", name, pair.text());
  measurand.is_element = state == PairState::element;
  for (const auto& [place, record] : units) {
    const Finding* finding = finding_of(record, pair, state);
    if (!finding) continue;
    measurand.values.push_back({place.unit, place.serial, *finding->corrected, *finding->U});
    measurand.resolution_ohm = std::max(measurand.resolution_ohm, finding->indication.resolution);
  }
  return measurand;
}

double spread_of(const LotMeasurand& measurand) {
  std::vector<double> values;
  for (const LotValue& value : measurand.values) values.push_back(value.value);
  return capability(values, {}).sd.value_or(0.0);
}

/// Contacts of milliohms on a meter that shows tenths of an ohm have no spread that anybody could see.
void say_when_unresolved(LotMeasurand& measurand) {
  std::set<double> different;
  for (const LotValue& value : measurand.values) different.insert(value.value);
  if (measurand.values.size() < 2)
    measurand.why_not = "fewer than two units have a value";
  else if (measurand.in == LotUnitOfValue::ohm && !measurand.is_element &&
           !(spread_of(measurand) >= measurand.resolution_ohm && measurand.resolution_ohm > 0.0))
    measurand.why_not = fmt::format(
        "the meter's digit of {:g} ohm does not resolve it: {} units spread by less than that; a millivolt "
        "drop under a known current would",
        measurand.resolution_ohm, measurand.values.size());
  else if (different.size() < 2)
    measurand.why_not = "every unit shows the same digits: the meter does not resolve the spread";
}

VersionOhm version_ohm(const Profile& profile, const Element& element, bool ordered) {
  const double share = element.tolerance_pct / 100.0;
  return {profile.id, element.nominal_ohm * (1.0 - share), element.nominal_ohm * (1.0 + share), ordered};
}

void tell_versions(LotValues& values, const Profile& profile, const std::vector<Profile>& others) {
  if (others.empty() || profile.elements.empty()) return;
  const Element& element = profile.elements.front();
  std::vector<VersionOhm> versions{version_ohm(profile, element, true)};
  for (const Profile& other : others)
    for (const Element& same : other.elements)
      if (same.between == element.between) versions.push_back(version_ohm(other, same, false));
  if (versions.size() < 2) return;
  for (const LotValue& value : values.measurands.front().values)
    if (value.value > 0.0)
      values.versions.push_back({value.unit, value.serial, version_of(value.value, value.U / 2.0, versions)});
}

ValueLimits within(const std::optional<Interval>& interval) {
  ValueLimits limits;
  if (interval && interval->bounded_below()) limits.lower = interval->min;
  if (interval && interval->bounded_above()) limits.upper = interval->max;
  return limits;
}

/// Duty and period at every position that was traced, in the profile's order of positions.
void add_timed(LotValues& values, const Profile& profile, const std::vector<LotTrace>& traces) {
  for (const Position& position : profile.positions) {
    LotMeasurand duty{fmt::format("duty at {}", position.id), LotUnitOfValue::share, false, {}, {}, 0.0, {}};
    LotMeasurand period{fmt::format("period at {}", position.id), LotUnitOfValue::second, false, {}, {}, 0.0, {}};
    for (const Timing& timing : profile.timing)
      if (timing.position == position.id) duty.limits = within(timing.duty), period.limits = within(timing.period_s);
    std::map<int, const LotTrace*> last;
    for (const LotTrace& trace : traces)
      if (trace.timed.position == position.id) last[trace.unit] = &trace;
    for (const LotTrace& trace : traces) {
      if (trace.timed.position != position.id || last.at(trace.unit) != &trace) continue;
      const TimedFigures& timed = trace.timed;
      if (timed.duty) duty.values.push_back({trace.unit, trace.serial, *timed.duty, timed.duty_U.value_or(0.0)});
      if (timed.period_s)
        period.values.push_back({trace.unit, trace.serial, *timed.period_s, timed.period_U_s.value_or(0.0)});
    }
    for (LotMeasurand* measurand : {&duty, &period}) {
      if (measurand->values.empty()) continue;
      say_when_unresolved(*measurand);
      values.measurands.push_back(std::move(*measurand));
    }
  }
}

}  // namespace

std::string value_words(double value, LotUnitOfValue unit) {
  switch (unit) {
    case LotUnitOfValue::second: return fmt::format("{:.4g} s", value);
    case LotUnitOfValue::share: return fmt::format("{:.4g} %", 100.0 * value);
    case LotUnitOfValue::ohm: break;
  }
  return human_ohm(value);
}

LotValues lot_values(const Profile& profile, const Units& units, const std::vector<Profile>& others,
                     const std::vector<LotTrace>& traces) {
  LotValues values;
  for (const Element& element : profile.elements) {
    LotMeasurand measurand = measured(units, element.id, element.between, PairState::element);
    const double share = element.tolerance_pct / 100.0;
    measurand.limits = {element.nominal_ohm * (1.0 - share), element.nominal_ohm * (1.0 + share), element.nominal_ohm};
    say_when_unresolved(measurand);
    values.measurands.push_back(std::move(measurand));
  }
  tell_versions(values, profile, others);
  for (const Contact& contact : profile.contacts) {
    LotMeasurand measurand = measured(units, "contact " + contact.id, contact.between, PairState::closed);
    measurand.limits.upper = profile.limits.closed_max_ohm;
    say_when_unresolved(measurand);
    values.measurands.push_back(std::move(measurand));
  }
  add_timed(values, profile, traces);
  return values;
}

}  // namespace switchwright
