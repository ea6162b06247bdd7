#include "switchwright/explain/consequence.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/contact_heat.hpp"
#include "switchwright/judge/holm.hpp"
#include "switchwright/profile/expectation.hpp"

namespace switchwright {

namespace {

constexpr const char* replace_it = "Replace the part; never file or bend its contacts.";

/// Current between the two could put the supply on the load or on exposed metal at some position.
bool can_make_live(const Profile& profile, const Pair& pair) {
  return std::any_of(profile.positions.begin(), profile.positions.end(), [&](const Position& position) {
    const Expectation e = expectation(profile, position.id, pair);
    return e.state != PairState::closed && e.can_make_live;
  });
}

Consequence bridge(const Profile& profile, const Fault& fault) {
  const bool to_metal = profile.is_exposed_metal(fault.id) != profile.is_exposed_metal(fault.other);
  if (to_metal)
    return {{},
            fmt::format("What a hand can touch is joined to {}: it can be live.",
                        profile.is_exposed_metal(fault.id) ? fault.other : fault.id),
            "Do not refit it and do not power it again. Look for what joins the two: a strand, soot, a "
            "crushed insulator.",
            Severity::critical};
  if (can_make_live(profile, {fault.id, fault.other}))
    return {{},
            fmt::format("{} and {} are joined where nothing should join them: what must be dead can be live.", fault.id,
                        fault.other),
            "Do not refit it. Look for what joins the two: a strand, soot, a fallen part.",
            Severity::critical};
  return {{},
          fmt::format("{} and {} are joined where nothing should join them.", fault.id, fault.other),
          "Look for what joins the two: a strand, soot, a fallen part. Then replace the part.",
          Severity::major};
}

/// How another version's element takes to this one's supply.
Consequence other_part(const Profile& profile, const std::vector<Profile>& others, const std::string& id) {
  Consequence consequence{{},
                          fmt::format("The part in hand is wired like {}, not like {}.", id, profile.id),
                          "Compare the marking on the part with the one that is wanted, and do not fit it on guess.",
                          Severity::major};
  const auto other = std::find_if(others.begin(), others.end(), [&](const Profile& p) { return p.id == id; });
  if (other == others.end() || other->rating.voltage_v == profile.rating.voltage_v) return consequence;
  consequence.means = fmt::format("The part in hand is made for {:g} V, not for {:g} V.", other->rating.voltage_v,
                                  profile.rating.voltage_v);
  for (const Element& mine : profile.elements)
    for (const Element& its : other->elements)
      if (its.id == mine.id && its.between == mine.between && its.nominal_ohm > 0.0)
        consequence.means += fmt::format(
            " On {:g} V its {} would turn {:.2g} times the power meant for it into heat (P = U^2 / R).",
            profile.rating.voltage_v, its.id,
            profile.rating.voltage_v * profile.rating.voltage_v / (other->rating.voltage_v * other->rating.voltage_v));
  return consequence;
}

std::optional<Consequence> general(const Profile& profile, const Fault& fault) {
  switch (fault.kind) {
    case FaultKind::bridged: return bridge(profile, fault);
    case FaultKind::tied:
      return Consequence{{},
                         fmt::format("{} and {} close together where only one of them should.", fault.id, fault.other),
                         replace_it,
                         Severity::major};
    case FaultKind::swapped:
      return Consequence{
          {},
          fmt::format("What belongs on {} is on {}, or the part is marked wrongly.", fault.id, fault.other),
          "Compare with the label or the photograph taken before the wires came off, and measure again.",
          Severity::major};
    case FaultKind::clocked:
      return Consequence{{},
                         fmt::format("The {} does not stand where it points.", profile.knob),
                         fmt::format("Look how the {} sits, set it right and measure again.", profile.knob),
                         Severity::critical};
    case FaultKind::stuck_closed:
      return Consequence{{}, fmt::format("Contact {} does not open.", fault.id), replace_it, Severity::critical};
    case FaultKind::stuck_open:
      return Consequence{{}, fmt::format("Contact {} does not close.", fault.id), replace_it, Severity::major};
    case FaultKind::resistive:
      return Consequence{{}, "The contact heats itself under load.", replace_it, Severity::major};
    case FaultKind::open:
    case FaultKind::shorted:
    case FaultKind::drifted: return std::nullopt;
  }
  return std::nullopt;
}

}  // namespace

std::string heat_in_words(const Profile& profile, const Contact& contact, double contact_ohm) {
  const auto heat = contact_heat(profile, contact, contact_ohm);
  if (!heat) return {};
  const std::string words = fmt::format("{}, {} in one contact turn {:.3g} W into heat (P = I^2 R)",
                                        current_words(*heat), human_ohm(contact_ohm), heat->heat_w);
  const auto silver = contact_metal("Ag");
  if (silver && heat->drop_v >= silver->melting_v)
    return words + fmt::format("; the drop of {:.3g} V is more than the {:g} V at which a spot of silver melts (Holm).",
                               heat->drop_v, silver->melting_v);
  return words + fmt::format(
                     "; the spot where they touch is at up to {:.0f} degC (Holm, drop {:.3g} V). A two-wire drop "
                     "also holds film, metal and leads, so this is an upper bound.",
                     spot_temperature_c(heat->drop_v), heat->drop_v);
}

std::optional<Consequence> consequence_of(const Profile& profile, const std::vector<Profile>& others,
                                          const Cause& cause) {
  std::optional<Consequence> consequence;
  if (cause.kind == CauseKind::other_profile) {
    consequence = other_part(profile, others, cause.profile);
    consequence->fault = to_string(cause);
    return consequence;
  }
  if (const Consequence* own = consequence_of(profile, cause.fault))
    consequence = *own;
  else if ((consequence = general(profile, cause.fault)))
    consequence->fault = to_string(cause);
  if (!consequence || cause.fault.kind != FaultKind::resistive || !cause.fault.value) return consequence;
  for (const Contact& contact : profile.contacts)
    if (contact.id == cause.fault.id)
      if (const std::string heat = heat_in_words(profile, contact, *cause.fault.value); !heat.empty())
        consequence->means += " " + heat;
  return consequence;
}

}  // namespace switchwright
