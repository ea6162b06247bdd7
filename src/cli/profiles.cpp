#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/profiles_powered.hpp"
#include "cli/view/profile_views.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/contact_limits.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/route.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

/// "12.24-16.56 kohm": the unit once where both ends have the same.
std::string range_words(const Interval& ohm) {
  const std::string low = human_ohm(ohm.min), high = human_ohm(ohm.max);
  const auto unit_at = low.find(' ');
  const bool same_unit = unit_at != std::string::npos && high.find(' ') != std::string::npos &&
                         low.substr(unit_at) == high.substr(high.find(' '));
  return (same_unit ? low.substr(0, unit_at) : low) + "-" + high;
}

std::string cell(const Expectation& expected) {
  switch (expected.state) {
    case PairState::open: return "open";
    case PairState::closed: return "closed";
    case PairState::element: return range_words(expected.ohm);
    case PairState::not_checked: return "not checked";
  }
  return "";
}

void print_json(const std::vector<Expectation>& expected) {
  for (const Expectation& e : expected) {
    Json json{{"type", "expectation"},
              {"position", e.position},
              {"pair", {e.pair.first(), e.pair.second()}},
              {"state", to_string(e.state)}};
    if (e.state != PairState::not_checked) {
      json["min_ohm"] = e.ohm.min;
      if (e.ohm.bounded_above()) json["max_ohm"] = e.ohm.max;
      if (e.nominal_ohm) json["nominal_ohm"] = *e.nominal_ohm;
      if (e.sound_max_ohm) json["sound_max_ohm"] = *e.sound_max_ohm;
    } else {
      json["reason"] = e.reason;
    }
    put_line(json.dump());
  }
}

/// "0.0233 ohm (350 mV at the 15 A it carries)", or each contact by itself where they differ.
std::string sound_words(const Profile& profile) {
  std::string words;
  for (const Contact& contact : profile.contacts) {
    const double amps = carried_a(profile, contact);
    const auto drop_v = sound_max_v(profile, contact);
    const std::string one =
        fmt::format("{:.3g} ohm{}", sound_max_ohm(profile, contact),
                    drop_v && amps > 0.0 ? fmt::format(" ({:.3g} mV at {:.3g} A)", *drop_v * 1e3, amps) : "");
    words += (words.empty() ? "" : ", ") + contact.id + " " + one;
  }
  return words.empty() ? human_ohm(profile.limits.sound_max_ohm) : words;
}

void show(const Profile& profile) {
  const auto expected = expectations(profile);
  put_line(terminal_safe(profile.id + ": " + profile.title));
  put_line("  values   " + terminal_safe(profile.values));
  put_line("  file     " + terminal_safe(profile.path.string()));
  put_line(fmt::format("  rating   {:g} V, {:g} A", profile.rating.voltage_v, profile.rating.current_a));
  put_line(fmt::format("  limits   a closed contact reads at most {}, an open one at least {}",
                       human_ohm(profile.limits.closed_max_ohm), human_ohm(profile.limits.open_min_ohm)));
  put_line("  sound    " + sound_words(profile));
  put_line("");
  put_line("What a meter should read between two terminals, derived from the network (cold, not powered):");
  put_line("");
  std::vector<std::string> headings{"pair"};
  for (const Position& position : profile.positions) headings.push_back(position.id);
  Table table{std::move(headings)};
  std::map<std::pair<std::string, Pair>, const Expectation*> at;
  for (const Expectation& e : expected) at[{e.position, e.pair}] = &e;
  for (const Pair& pair : profile.pairs()) {
    std::vector<std::string> row{pair.text()};
    for (const Position& position : profile.positions) row.push_back(cell(*at.at({position.id, pair})));
    table.add(std::move(row));
  }
  put(table.text("  "));
  put_line("");
  put_line("Probing order (all positions at each placement, one probe stays where it can):");
  put_line("");
  const auto route = plan_route(profile, expected);
  std::string line = " ";
  for (const Placement& placement : route) {
    const std::string word = " " + placement.pair.text() + (placement.open_everywhere ? "*" : "");
    if (line.size() + word.size() > 100) {
      put_line(line);
      line = " ";
    }
    line += word;
  }
  put_line(line);
  if (std::any_of(route.begin(), route.end(), [](const Placement& p) { return p.open_everywhere; }))
    put_line("  * open at every position: no reading can witness contact, so contact must be stated");
}

}  // namespace

int run(const ProfilesOptions& options) {
  const auto where = profile_places();
  if (!options.check.empty()) return check_profile(options);
  if (!options.match.empty()) return match_record(options);
  const bool about_one = options.order || options.coverage || options.shortest || !options.picture.empty();
  if (options.id.empty() && about_one)
    throw Error(ErrorKind::usage, "this needs a profile", "profiles", "name one that `switchwright profiles` lists");
  if (!options.id.empty()) {
    refuse_near_command(options.id, list_profiles(where), {"check", "match", "learn"}, "profiles");
    const Profile profile = load_profile(options.id, where);
    if (options.order) show_order(profile, options);
    if (options.coverage) show_coverage(profile, options);
    if (options.shortest) show_shortest(profile, options);
    if (!options.picture.empty()) write_picture(profile, options);
    if (about_one) return 0;
    if (options.powered)
      options.json ? print_voltages_json(profile) : show_voltages(profile);
    else
      options.json ? print_json(expectations(profile)) : show(profile);
    return 0;
  }
  Table table{{"profile", "rating", "what it is"}};
  for (const std::string& id : list_profiles(where)) {
    const Profile profile = load_profile(id, where);
    if (options.json)
      put_line(Json{{"type", "profile"},
                    {"id", profile.id},
                    {"title", profile.title},
                    {"values", profile.values},
                    {"voltage_v", profile.rating.voltage_v},
                    {"current_a", profile.rating.current_a},
                    {"file", profile.path.string()}}
                   .dump());
    else
      table.add({profile.id, fmt::format("{:g} V, {:g} A", profile.rating.voltage_v, profile.rating.current_a),
                 profile.title});
  }
  if (!options.json) put(table.text());
  return 0;
}

}  // namespace switchwright::cli
