#include "switchwright/profile/expectation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "profile/live.hpp"
#include "profile/parts.hpp"
#include "switchwright/profile/contact_limits.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

using namespace profile_parts;

/// The networks of one position.
struct Networks {
  Network minimum;   ///< contacts 0, elements at their least, open contacts at open_min_ohm
  Network maximum;   ///< contacts at closed_max_ohm, elements at their most, open contacts absent
  Network nominal;   ///< contacts 0, elements nominal, open contacts absent
  Network sound;     ///< as maximum, each contact at what it may have when it is sound
  Network contacts;  ///< contacts 0, elements and open contacts absent
};

Networks networks_at(const Profile& profile, const std::string& position) {
  const Limits& limits = profile.limits;
  const auto solve = [&](const PartOhms& ohms) {
    return Network(profile.network_nodes(), resistors(profile, position, ohms));
  };
  std::vector<Resistor> sound = resistors(profile, position, {0.0, infinity, most_ohm});
  for (std::size_t i = 0; i < profile.contacts.size(); ++i)  // contacts come first, in the profile's order
    if (profile.contacts[i].conducts_at(position)) sound[i].ohm = sound_max_ohm(profile, profile.contacts[i]);
  return {solve({0.0, limits.open_min_ohm, least_ohm}), solve({limits.closed_max_ohm, infinity, most_ohm}),
          solve({0.0, infinity, nominal_ohm}), Network(profile.network_nodes(), sound),
          Network(profile.network_nodes(), closed_contacts(profile, position))};
}

/// Ten significant digits: what is left of the solver's rounding would otherwise show in an exact limit
/// (1000000.0000000002 for 1 Mohm).
double tidied(double ohm) {
  if (ohm == 0.0 || !std::isfinite(ohm)) return ohm;
  const double unit = std::pow(10.0, 9.0 - std::floor(std::log10(std::abs(ohm))));
  return std::round(ohm * unit) / unit;
}

Expectation expect(const Profile& profile, const Networks& networks, const LivePairs& live, const std::string& position,
                   const Pair& pair) {
  const auto between = [&](const Network& network) {
    return tidied(network.resistance_ohm(pair.first(), pair.second()));
  };
  Expectation expected;
  expected.position = position;
  expected.pair = pair;
  const double nominal = between(networks.nominal);
  if (std::isfinite(nominal)) expected.nominal_ohm = nominal;
  const bool by_contacts_alone = between(networks.contacts) == 0.0;
  expected.state = by_contacts_alone        ? PairState::closed
                   : std::isfinite(nominal) ? PairState::element
                                            : PairState::open;
  expected.ohm = {between(networks.minimum), between(networks.maximum)};
  // Nothing at all between the two, not even an open contact: insulation, held to the same limit as an open
  // contact.
  if (std::isinf(expected.ohm.min)) expected.ohm.min = profile.limits.open_min_ohm;
  // An element of no more than what a contact may have is no reason to overlook the contact in series with it.
  if (expected.state == PairState::closed ||
      (expected.state == PairState::element && nominal <= profile.limits.closed_max_ohm))
    expected.sound_max_ohm = between(networks.sound);
  expected.can_make_live = expected.state == PairState::open && live.could_make_live(position, pair);
  if (const NotChecked* item = left_out(profile, position, pair)) {
    expected.state = PairState::not_checked;
    expected.reason = item->reason;
  }
  return expected;
}

}  // namespace

std::string to_string(PairState state) {
  switch (state) {
    case PairState::open: return "open";
    case PairState::closed: return "closed";
    case PairState::element: return "element";
    case PairState::not_checked: return "not-checked";
  }
  return {};
}

std::vector<Expectation> expectations(const Profile& profile) {
  const LivePairs live(profile);
  std::vector<Expectation> all;
  for (const Position& position : profile.positions) {
    const Networks networks = networks_at(profile, position.id);
    for (const Pair& pair : profile.pairs()) all.push_back(expect(profile, networks, live, position.id, pair));
  }
  return all;
}

Expectation expectation(const Profile& profile, const std::string& position, const Pair& pair) {
  if (!profile.position(position)) throw std::out_of_range("the profile has no position \"" + position + "\"");
  return expect(profile, networks_at(profile, position), LivePairs(profile), position, pair);
}

}  // namespace switchwright
