#include "switchwright/analysis/lot_values.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

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

/// Contacts of milliohms on a meter that shows tenths of an ohm have no spread that anybody could see.
void say_when_unresolved(LotMeasurand& measurand) {
  std::set<double> different;
  for (const LotValue& value : measurand.values) different.insert(value.ohm);
  if (measurand.values.size() < 2)
    measurand.why_not = "fewer than two units have a value";
  else if (!measurand.is_element && (different.size() < 5 || measurand.resolution_ohm <= 0.0))
    measurand.why_not = fmt::format(
        "the meter's digit of {:g} ohm does not resolve it: {} different values among {} units; a millivolt "
        "drop under a known current would",
        measurand.resolution_ohm, different.size(), measurand.values.size());
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
    if (value.ohm > 0.0)
      values.versions.push_back({value.unit, value.serial, version_of(value.ohm, value.U_ohm / 2.0, versions)});
}

}  // namespace

LotValues lot_values(const Profile& profile, const Units& units, const std::vector<Profile>& others) {
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
  return values;
}

}  // namespace switchwright
