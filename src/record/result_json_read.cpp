// From a kept line back to what the program knows. A key that is missing leaves what is not known; a line of another version,
// or one that somebody spoilt, is kept as it is and says nothing.
#include <nlohmann/json.hpp>

#include "switchwright/judge/scope_json.hpp"
#include "switchwright/record/result_json.hpp"

namespace switchwright {

namespace {

using Json = nlohmann::json;

std::optional<double> number(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found == json.end() ? std::nullopt : std::optional(found->get<double>());
}

std::string text(const Json& json, const char* key) { return json.value(key, std::string{}); }
std::uint64_t count(const Json& json, const char* key) { return json.value(key, std::uint64_t{0}); }
std::vector<std::string> texts(const Json& json, const char* key) {
  return json.value(key, std::vector<std::string>{});
}

/// The value that is spelled so, among those from `first` to `last`. @throws std::invalid_argument
template <class Enum>
Enum spelled(const std::string& word, Enum first, Enum last) {
  for (int i = static_cast<int>(first); i <= static_cast<int>(last); ++i)
    if (to_string(static_cast<Enum>(i)) == word) return static_cast<Enum>(i);
  throw std::invalid_argument("\"" + word + "\" is not a word this version knows");
}

Outcome outcome_from(const Json& json, const char* key) {
  for (const Outcome outcome : {Outcome::pass, Outcome::fail, Outcome::undecided})
    if (to_string(outcome) == text(json, key)) return outcome;
  throw std::invalid_argument("no outcome");
}

Pair pair_from(const Json& list) { return {list.at(0).get<std::string>(), list.at(1).get<std::string>()}; }

Figure figure_from(const Json& json, const char* key) {
  Figure figure;
  const auto found = json.find(key);
  if (found == json.end()) return figure;
  const Json& one = *found;
  figure.mean = number(one, "mean");
  figure.sd = number(one, "sd");
  figure.median = number(one, "median");
  figure.min = number(one, "min");
  figure.max = number(one, "max");
  figure.U = number(one, "U");
  figure.k = number(one, "k");
  figure.n_effective = number(one, "n_effective");
  figure.u_type_a = number(one, "u_type_a");
  figure.u_sampling = number(one, "u_sampling");
  figure.u_clock = number(one, "u_clock");
  figure.nu_eff = number(one, "nu_eff");
  figure.lag1 = number(one, "lag1");
  figure.median_error_bound = one.value("median_error_bound", 0.0);
  if (const auto trend = one.find("trend"); trend != one.end()) {
    figure.trend.emplace();
    figure.trend->tau = trend->value("tau", 0.0);
    figure.trend->z = trend->value("z", 0.0);
    figure.trend->p = trend->value("p", 1.0);
    figure.trend->slope = trend->value("slope_per_cycle", 0.0);
  }
  return figure;
}

CycleFigures figures_from(const Json& json, std::uint64_t cycles) {
  CycleFigures figures;
  figures.cycles = cycles;
  figures.on_s = figure_from(json, "on_s");
  figures.off_s = figure_from(json, "off_s");
  figures.period_s = figure_from(json, "period_s");
  figures.duty = figure_from(json, "duty");
  return figures;
}

CycleEventLog events_from(const Json& json) {
  std::vector<CycleEvent> first;
  for (const Json& one : json.value("events", Json::array())) {
    CycleEvent event;
    event.kind = spelled(text(one, "kind"), CycleEventKind::gap, CycleEventKind::incomplete);
    event.t_s = one.value("start_s", 0.0);
    event.duration_s = one.value("duration_s", 0.0);
    event.high = text(one, "to") == "high";
    first.push_back(event);
  }
  const std::uint64_t all = json.value("events_total", std::uint64_t{first.size()});
  return {std::move(first), all};
}

ChannelSummary summary_from(const Json& json) {
  ChannelSummary value;
  value.channel = text(json, "channel");
  value.events = events_from(json);
  CycleSummary& s = value.summary;
  s.samples = count(json, "samples");
  s.gaps = count(json, "gaps");
  s.complete_cycles = count(json, "complete_cycles");
  s.low_level = number(json, "low_level");
  s.high_level = number(json, "high_level");
  s.all = figures_from(json, json.value("figure_cycles", s.complete_cycles));
  if (json.contains("steady_from_cycle")) s.steady_from_cycle = count(json, "steady_from_cycle");
  s.state = spelled(text(json, "state"), ChannelState::cycling, ChannelState::unknown);
  s.trusted = text(json, "trust") == "good";
  s.reasons = texts(json, "reasons");
  s.notes = texts(json, "notes");
  s.reference_level = number(json, "reference_level");
  s.second_on_level = number(json, "second_on_level");
  s.first_s = json.value("first_s", 0.0);
  s.last_s = json.value("last_s", 0.0);
  s.interval_s = number(json, "interval_s");
  s.update_s = number(json, "update_s");
  s.gap_over_s = number(json, "gap_over_s");
  s.min_dwell_s = number(json, "min_dwell_s");
  s.edges = count(json, "edges");
  s.blips = count(json, "blips");
  s.incomplete_cycles = count(json, "incomplete_cycles");
  s.flagged_cycles = count(json, "flagged_cycles");
  s.duplicate_stamps = count(json, "duplicate_stamps");
  s.out_of_order_stamps = count(json, "out_of_order_stamps");
  s.clock_steps = count(json, "clock_steps");
  s.over_range = count(json, "over_range");
  if (json.contains("state_at_end")) s.high_at_end = text(json, "state_at_end") == "on";
  s.last_change_s = json.value("last_change_s", 0.0);
  s.drifting = json.value("drift", false);
  if (const auto steady = json.find("steady"); steady != json.end())
    s.steady = figures_from(*steady, count(*steady, "cycles"));
  return value;
}

TimingJudgement timing_from(const Json& json) {
  TimingJudgement timing;
  for (const Json& one : json.at("timing")) {
    TimingFinding f;
    f.quantity = text(one, "quantity");
    f.unit = text(one, "unit");
    f.value = one.value("value", 0.0);
    f.U = one.value("U", 0.0);
    f.measured = number(one, "measured");
    f.least = number(one, "least");
    f.most = number(one, "most");
    f.normalized = one.value("at_rated_conditions", false);
    const Json limits = one.value("limits", Json::object());
    f.limits.min = limits.value("min", f.limits.min);
    f.limits.max = limits.value("max", f.limits.max);
    f.outcome = outcome_from(one, "outcome");
    f.sentence = text(one, "sentence");
    timing.findings.push_back(std::move(f));
  }
  for (const Json& one : json.value("faults", Json::array()))
    timing.faults.push_back(
        {spelled(text(one, "fault"), TimingFault::never_opens, TimingFault::drifting), text(one, "sentence")});
  timing.duty_at_rated = number(json, "duty_at_rated");
  timing.saturated = json.value("saturated", false);
  for (const Json& one : json.value("voltage_versions", Json::array()))
    timing.versions.push_back({one.value("rated_voltage_v", 0.0), one.value("duty", 0.0), one.value("period_s", 0.0),
                               one.value("fits", false)});
  timing.operations_per_hour = number(json, "operations_per_hour");
  timing.click_rate_per_min = number(json, "click_rate_per_min");
  return timing;
}

Life life_from(const Json& json) {
  return {count(json, "operations"), count(json, "operations_before"), count(json, "records_before"),
          number(json, "endurance_operations")};
}

TraceVerdict verdict_from(const Json& json) {
  TraceVerdict value;
  value.position = text(json, "position");
  value.record_id = text(json, "record");
  CyclingJudgement& j = value.judgement;
  j.outcome = outcome_from(json, "verdict");
  j.headline = text(json, "headline");
  if (json.contains("scope"))
    j.scope = scope_from(json["scope"]);
  else  // before a verdict had a scope, a trace was about its timing
    j.scope[ScopePart::timing] = {as_decided(j.outcome), j.headline, {}};
  if (json.contains("required")) j.required = scope_parts_from(json["required"]);
  j.load_channel = text(json, "load_channel");
  j.expected = text(json, "load_should");
  j.supply_v = number(json, "supply_v");
  j.supply_from = text(json, "supply_from");
  const std::string heater = text(json, "heater");
  j.heater = heater == "shunt" ? HeaterKind::shunt : heater == "series" ? HeaterKind::series : HeaterKind::unknown;
  if (json.contains("timing")) j.timing = timing_from(json);
  for (const Json& one : json.value("channels", Json::array()))
    j.findings.push_back({text(one, "channel"), role_named(text(one, "role")).value_or(ChannelRole::other),
                          outcome_from(one, "outcome"), text(one, "kind"), text(one, "sentence")});
  if (json.contains("life")) value.life = life_from(json["life"]);
  j.remarks = texts(json, "remarks");
  return value;
}

ContactDrop drop_from(const Json& json) {
  ContactDrop d;
  d.contact = text(json, "contact");
  d.position = text(json, "position");
  d.pair = pair_from(json.at("pair"));
  d.current = {json.value("current_a", 0.0), json.value("U_current_a", 0.0)};
  d.limit_ohm = json.value("limit_ohm", 0.0);
  d.shown_a = number(json, "supply_shows_a");
  d.shown_free_a = number(json, "supply_shows_free_a");
  d.rated_a = json.value("rated_current_a", 0.0);
  d.heat_w = json.value("rated_heat_w", 0.0);
  d.drop.state = spelled(json.value("state", std::string{"seen"}), DropState::seen, DropState::beyond);
  d.drop.drop_v = json.value("drop_v", 0.0);
  d.drop.U_drop_v = json.value("U_drop_v", 0.0);
  d.drop.ohm = json.value("ohm", 0.0);
  d.drop.U_ohm = json.value("U_ohm", 0.0);
  d.drop.u_ohm = d.drop.U_ohm / 2.0;  // U is given with k = 2
  d.drop.zero_v = json.value("zero_v", 0.0);
  d.drop.drift_v = number(json, "zero_drift_v");
  d.drop.thermal_v = number(json, "thermal_v");
  d.drop.spot_c = json.value("spot_at_most_c", 0.0);
  d.drop.outcome = outcome_from(json, "outcome");
  d.drop.sentence = text(json, "text");
  return d;
}

LearnSubject subject_from(const Json& json) {
  LearnSubject subject;
  subject.title = text(json, "title");
  subject.knob = json.value("knob", subject.knob);
  subject.terminals = json.at("terminals").get<std::vector<std::string>>();
  subject.exposed_metal = texts(json, "exposed_metal");
  subject.positions = json.at("positions").get<std::vector<std::string>>();
  subject.beyond_ohm = json.value("beyond_ohm", subject.beyond_ohm);
  subject.voltage_v = number(json, "voltage_v");
  subject.current_a = number(json, "current_a");
  return subject;
}

LotUnitSetup lot_unit_from(const Json& json) {
  LotUnitSetup setup{text(json, "lot"), text(json, "lot_number"), json.value("place", 0), json.value("unit", 0), {}};
  if (const auto leads = json.find("leads"); leads != json.end())
    setup.leads = {leads->value("ohm", 0.0), leads->value("resolution", 0.0)};
  return setup;
}

/// Four kinds of work have a setup; each says something that the others do not.
ResultValue setup_from(const Json& json) {
  if (text(json, "kind") == "lot-unit") return lot_unit_from(json);
  if (text(json, "kind") == "bench-check") return BenchCheckSetup{text(json, "lot")};
  if (json.contains("terminals")) return subject_from(json);
  return DropTask{{json.at("current_a").get<double>(), json.value("U_current_a", 0.0)},
                  text(json, "position"),
                  json.value("reversed", false)};
}

LearnedPart learned_from(const Json& json) {
  LearnedPart part;
  for (const Json& one : json.at("contacts"))
    part.learned.contacts.push_back({text(one, "id"), pair_from(one.at("pair")), texts(one, "closed_at"), {}});
  for (const Json& one : json.value("elements", Json::array()))
    part.learned.elements.push_back(
        {text(one, "id"), pair_from(one.at("pair")), one.value("nominal_ohm", 0.0), one.value("tolerance_pct", 0.0)});
  part.learned.unconnected = texts(json, "unconnected");
  part.learned.ambiguities = texts(json, "open_questions");
  part.profile = text(json, "profile");
  return part;
}

ResultValue value_from(const std::string& kind, const Json& json) {
  if (kind == "summary") return summary_from(json);
  if (kind == "verdict") return verdict_from(json);
  if (kind == "setup") return setup_from(json);
  if (kind == "drop") return drop_from(json);
  if (kind == "learned") return learned_from(json);
  return UnknownResult{};
}

}  // namespace

WorkResult read_result(std::string kind, std::string channel, std::int64_t operations, std::string line) {
  WorkResult result{std::move(kind), std::move(channel), operations, UnknownResult{}, std::move(line)};
  try {
    const Json json = Json::parse(result.kept);
    if (json.is_object()) result.value = value_from(result.kind, json);
  } catch (const std::exception&) {
    result.value = UnknownResult{};
  }
  return result;
}

}  // namespace switchwright
