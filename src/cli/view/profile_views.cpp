#include "cli/view/profile_views.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>
#include <map>
#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/bench/plan_cost.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/coverage.hpp"
#include "switchwright/profile/closings.hpp"
#include "switchwright/profile/route.hpp"
#include "switchwright/report/exporter.hpp"
#include "switchwright/report/schematic.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

Json place_json(const Place& place) {
  return {{"position", place.position}, {"pair", {place.pair.first(), place.pair.second()}}};
}

/// "L1-H1 off, low; H1-H2 off": pairs in the order they come, each once.
std::string places_text(const std::vector<Place>& places) {
  std::vector<std::pair<Pair, std::vector<std::string>>> by_pair;
  for (const Place& place : places) {
    const auto found =
        std::find_if(by_pair.begin(), by_pair.end(), [&](const auto& entry) { return entry.first == place.pair; });
    if (found == by_pair.end())
      by_pair.push_back({place.pair, {place.position}});
    else
      found->second.push_back(place.position);
  }
  std::string text;
  for (const auto& [pair, positions] : by_pair)
    text += fmt::format("{}{} {}", text.empty() ? "" : "; ", pair.text(), fmt::join(positions, ", "));
  return text;
}

Json whole_json(const PlanCost& cost) {
  return {{"cost_s", cost.seconds},
          {"probes_moved", cost.probes_moved},
          {"knob_steps", cost.knob_steps},
          {"function_changes", cost.function_changes}};
}

MeterDefinition meter_for(const ProfilesOptions& options) {
  return load_meter_definition(options.meter, meter_places());
}

}  // namespace

void show_order(const Profile& profile, const ProfilesOptions& options) {
  const RouteCost cost = load_route_cost(options.hands, profile_places());
  const auto expected = expectations(profile);
  const Route route = plan_route(profile, expected, cost);
  const std::vector<Placement> full = with_closings(profile, expected, route.placements, cost);
  const double closings_s = route_cost_s(profile, full, cost) - route.cost_s;
  const PlanCost whole = cost_of(complete_plan(profile, full), profile, cost);
  const PlanCost plain = cost_of(complete_plan(profile, naive_route(profile, expected)), profile, cost);
  if (options.json) {
    for (const Placement& placement : route.placements)
      put_line(Json{{"type", "placement"},
                    {"pair", {placement.pair.first(), placement.pair.second()}},
                    {"positions", placement.positions},
                    {"open_everywhere", placement.open_everywhere}}
                   .dump());
    put_line(Json{{"type", "order"},
                  {"profile", profile.id},
                  {"hands", cost.id},
                  {"placements", route.placements.size()},
                  {"cost_s", route.cost_s},
                  {"naive_cost_s", route.naive_cost_s},
                  {"lower_bound_s", route.lower_bound_s},
                  {"optimal", route.optimal},
                  {"closings_s", closings_s},
                  {"whole", whole_json(whole)},
                  {"naive_whole", whole_json(plain)}}
                 .dump());
    return;
  }
  std::string hands = cost.title;
  if (!hands.empty()) hands[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(hands[0])));
  put_line(fmt::format("Probing order of {}. Hands: {}.", profile.id, hands));
  put_line("");
  int number = 0;
  const Pair* before = nullptr;
  Table table{{"", "probes", "moved", "positions, in this order"}};
  for (const Placement& placement : route.placements) {
    std::string moved = "place both";
    if (before) {
      const std::string kept = before->shared_with(placement.pair);
      moved = *before == placement.pair ? "none" : kept.empty() ? "both" : kept + " stays";
    }
    table.add({std::to_string(++number), placement.pair.text() + (placement.open_everywhere ? "*" : ""), moved,
               fmt::format("{}", fmt::join(placement.positions, ", "))});
    before = &placement.pair;
  }
  put(table.text("  "));
  if (std::any_of(route.placements.begin(), route.placements.end(),
                  [](const Placement& p) { return p.open_everywhere; }))
    put_line("  * open at every position: no reading can witness contact, so contact must be stated");
  put_line("");
  put_line(fmt::format("  this order   {} of moves", human_seconds(route.cost_s)));
  put_line(fmt::format("  plain order  {} (pairs as the file lists them, every one from the first position up)",
                       human_seconds(route.naive_cost_s)));
  put_line(
      fmt::format("  bound        {}: {}", human_seconds(route.lower_bound_s),
                  route.optimal ? "no order costs less than this one" : "proven; no order costs less than this bound"));
  put_line(fmt::format("  closings     {} more, so that each contact is seen to close {} times",
                       human_seconds(closings_s), closings_wanted));
  put_line(fmt::format("  whole work   {} (plain order {}): absence of voltage, ohms{}", human_seconds(whole.seconds),
                       human_seconds(plain.seconds), profile.powered ? ", volts under power" : ""));
  put_line(fmt::format("               {} probe moves, {} steps of the {}, {} of the meter's function",
                       whole.probes_moved, whole.knob_steps, profile.knob,
                       whole.function_changes == 1 ? "1 change" : fmt::format("{} changes", whole.function_changes)));
  put_line(fmt::format("  reckoned     one probe {:g} s, both {:g} s, {} one step {:g} s, the meter's function {:g} s",
                       cost.move_one_s, cost.move_both_s, profile.knob, cost.turn_step_s, cost.change_function_s));
}

void show_coverage(const Profile& profile, const ProfilesOptions& options) {
  const MeterDefinition meter = meter_for(options);
  const Coverage covered = coverage(profile, expectations(profile), meter);
  std::size_t detected = 0, isolated = 0;
  for (const CoveredFault& fault : covered.faults) {
    detected += fault.detected();
    isolated += fault.isolated();
  }
  const auto places_of = [&](const CoveredFault& fault) {
    std::vector<Place> places;
    for (const std::size_t i : fault.detected_by) places.push_back(covered.places[i]);
    return places;
  };
  if (options.json) {
    for (const CoveredFault& fault : covered.faults) {
      Json json{{"type", "fault"},
                {"fault", to_string(fault.hypothesis)},
                {"words", in_words(fault.hypothesis)},
                {"detected", fault.detected()},
                {"isolated", fault.isolated()},
                {"same_readings_as", fault.same_readings_as},
                {"detected_by", Json::array()}};
      for (const Place& place : places_of(fault)) json["detected_by"].push_back(place_json(place));
      put_line(json.dump());
    }
    put_line(Json{{"type", "coverage"},
                  {"profile", profile.id},
                  {"meter", meter.id},
                  {"readings", covered.places.size()},
                  {"faults", covered.faults.size()},
                  {"detected", detected},
                  {"isolated", isolated}}
                 .dump());
    return;
  }
  put_line(fmt::format("Single faults of {} as {} sees them: {} faults, {} detected, {} isolated, {} readings",
                       profile.id, meter.id, covered.faults.size(), detected, isolated, covered.places.size()));
  put_line("");
  Table table{{"fault", "detected by", "fails at"}};
  for (const CoveredFault& fault : covered.faults) {
    const auto places = places_of(fault);
    constexpr std::size_t most = 5;
    const std::vector<Place> first{places.begin(),
                                   places.begin() + static_cast<std::ptrdiff_t>(std::min(most, places.size()))};
    table.add({to_string(fault.hypothesis),
               places.empty() ? "nothing" : fmt::format("{} reading{}", places.size(), places.size() == 1 ? "" : "s"),
               places_text(first) + (places.size() > most ? " ..." : "")});
  }
  put(table.text("  "));
  put_line("");
  put_line(
      "  Detected: at least one reading would be judged a failure. Isolated: no other single fault gives the "
      "same readings.");
  for (const CoveredFault& fault : covered.faults)
    if (!fault.isolated())
      put_line(fmt::format("  {} gives the same readings as {}", to_string(fault.hypothesis),
                           joined_with_and(fault.same_readings_as)));
}

void show_shortest(const Profile& profile, const ProfilesOptions& options) {
  const MeterDefinition meter = meter_for(options);
  const auto expected = expectations(profile);
  const ShortPlan plan = short_plan(profile, expected, meter);
  if (options.json) {
    Json json{{"type", "short-plan"},
              {"profile", profile.id},
              {"meter", meter.id},
              {"readings", Json::array()},
              {"proven_smallest", plan.proven_smallest},
              {"left_out", plan.left_out},
              {"never_detected", plan.never_detected},
              {"doubles_detected", plan.doubles_detected},
              {"doubles_missed", plan.doubles_missed},
              {"sentence", plan.sentence}};
    for (const Place& place : plan.places) json["readings"].push_back(place_json(place));
    put_line(json.dump());
    return;
  }
  put_line(plan.sentence);
  put_line("");
  std::map<Pair, std::vector<std::string>> by_pair;
  for (const Place& place : plan.places) by_pair[place.pair].push_back(place.position);
  Table table{{"probes", "positions"}};
  for (const Pair& pair : profile.pairs())
    if (by_pair.contains(pair)) table.add({pair.text(), fmt::format("{}", fmt::join(by_pair[pair], ", "))});
  put(table.text("  "));
  put_line("");
  if (!plan.never_detected.empty())
    put_line("  No reading of this or of the full plan shows: " + joined_with_and(plan.never_detected));
  put_line("  Take it with: switchwright qualify --plan short");
}

void write_picture(const Profile& profile, const ProfilesOptions& options) {
  const std::string picture = schematic_svg(profile, options.position);
  if (options.picture == "-") {
    put(picture);
    return;
  }
  write_file_durably(options.picture, picture);
  say("picture written to " + options.picture);
}

}  // namespace switchwright::cli
