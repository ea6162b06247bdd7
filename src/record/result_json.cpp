#include "switchwright/record/result_json.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

#include "switchwright/judge/scope_json.hpp"

namespace switchwright {

namespace {

using Json = nlohmann::ordered_json;

std::string line(const Json& json) { return json.dump(-1, ' ', false, Json::error_handler_t::replace); }

Json pair_json(const Pair& pair) { return Json::array({pair.first(), pair.second()}); }

void put(Json& json, const char* key, const std::optional<double>& value) {
  if (value && std::isfinite(*value)) json[key] = *value;
}

Json figure_json(const Figure& figure) {
  Json json = Json::object();
  put(json, "mean", figure.mean);
  put(json, "sd", figure.sd);
  put(json, "median", figure.median);
  put(json, "min", figure.min);
  put(json, "max", figure.max);
  put(json, "U", figure.U);
  put(json, "k", figure.k);
  put(json, "n_effective", figure.n_effective);
  put(json, "u_type_a", figure.u_type_a);
  put(json, "u_sampling", figure.u_sampling);
  put(json, "u_clock", figure.u_clock);
  put(json, "nu_eff", figure.nu_eff);
  put(json, "lag1", figure.lag1);
  if (figure.median_error_bound > 0.0) json["median_error_bound"] = figure.median_error_bound;
  if (figure.trend) {
    Json trend = {{"tau", figure.trend->tau}, {"z", figure.trend->z}, {"p", figure.trend->p}};
    trend["slope_per_cycle"] = figure.trend->slope / static_cast<double>(figure.trend->block);
    json["trend"] = trend;
  }
  return json;
}

void put_figures(Json& json, const CycleFigures& figures) {
  const auto add = [&](const char* key, const Figure& figure) {
    if (const Json one = figure_json(figure); !one.empty()) json[key] = one;
  };
  add("on_s", figures.on_s);
  add("off_s", figures.off_s);
  add("period_s", figures.period_s);
  add("duty", figures.duty);
}

Json events_json(const CycleEventLog& events) {
  Json list = Json::array();
  for (const CycleEvent& event : events.first()) {
    Json one = {{"kind", to_string(event.kind)}, {"start_s", event.t_s}};
    if (event.duration_s > 0.0) one["duration_s"] = event.duration_s;
    if (event.kind == CycleEventKind::blip) one["to"] = event.high ? "high" : "low";
    list.push_back(one);
  }
  return list;
}

Json interval_json(const Interval& interval) {
  Json json = Json::object();
  if (interval.bounded_below()) json["min"] = interval.min;
  if (interval.bounded_above()) json["max"] = interval.max;
  return json;
}

const char* heater_word(HeaterKind kind) {
  switch (kind) {
    case HeaterKind::shunt: return "shunt";
    case HeaterKind::series: return "series";
    case HeaterKind::unknown: break;
  }
  return "";
}

Json life_json(const Life& life) {
  Json json = {{"operations", life.operations},
               {"operations_before", life.operations_before},
               {"records_before", life.records_before},
               {"operations_total", life.total()}};
  if (life.endurance_operations) {
    json["endurance_operations"] = *life.endurance_operations;
    if (*life.endurance_operations > 0.0)
      json["share"] = static_cast<double>(life.total()) / *life.endurance_operations;
  }
  return json;
}

void put_timing(Json& json, const TimingJudgement& timing) {
  json["timing"] = Json::array();
  for (const TimingFinding& f : timing.findings) {
    Json one = {{"quantity", f.quantity}};
    if (!f.unit.empty()) one["unit"] = f.unit;
    one["value"] = f.value;
    one["U"] = f.U;
    put(one, "measured", f.measured);
    put(one, "least", f.least);
    put(one, "most", f.most);
    one["at_rated_conditions"] = f.normalized;
    one["limits"] = interval_json(f.limits);
    one["outcome"] = to_string(f.outcome);
    one["sentence"] = f.sentence;
    json["timing"].push_back(one);
  }
  json["faults"] = Json::array();
  for (const TimingFaultFinding& fault : timing.faults)
    json["faults"].push_back({{"fault", to_string(fault.fault)}, {"sentence", fault.sentence}});
  put(json, "duty_at_rated", timing.duty_at_rated);
  if (timing.saturated) json["saturated"] = true;
  if (!timing.versions.empty()) {
    json["voltage_versions"] = Json::array();
    for (const VoltageVersion& version : timing.versions) {
      Json one = {{"rated_voltage_v", version.rated_voltage_v}, {"duty", version.duty}};
      if (version.period_s > 0.0) one["period_s"] = version.period_s;
      one["fits"] = version.fits;
      json["voltage_versions"].push_back(one);
    }
  }
  put(json, "operations_per_hour", timing.operations_per_hour);
  put(json, "click_rate_per_min", timing.click_rate_per_min);
}

}  // namespace

std::string cycle_json(const std::string& channel, const Cycle& cycle) {
  Json json = {{"type", "cycle"},    {"channel", channel},   {"index", cycle.index},       {"start_s", cycle.start_s},
               {"on_s", cycle.on_s}, {"off_s", cycle.off_s}, {"period_s", cycle.period_s}, {"duty", cycle.duty}};
  if (cycle.blips > 0) json["blips"] = cycle.blips;
  if (cycle.has_gap) json["has_gap"] = true;
  return line(json);
}

std::string summary_json(const std::string& channel, const CycleSummary& s, const CycleEventLog* events,
                         const std::map<std::string, std::uint64_t>& further) {
  Json json = {{"type", "summary"}, {"channel", channel}, {"samples", s.samples}, {"gaps", s.gaps}};
  json["complete_cycles"] = s.complete_cycles;
  put(json, "low_level", s.low_level);
  put(json, "high_level", s.high_level);
  put_figures(json, s.all);
  if (s.all.period_s.mean && s.all.cycles != s.complete_cycles) json["figure_cycles"] = s.all.cycles;
  if (s.steady_from_cycle) json["steady_from_cycle"] = *s.steady_from_cycle;
  json["state"] = to_string(s.state);
  json["trust"] = s.trusted ? "good" : "poor";
  json["reasons"] = s.reasons;
  json["notes"] = s.notes;
  put(json, "reference_level", s.reference_level);
  put(json, "second_on_level", s.second_on_level);
  json["first_s"] = s.first_s;
  json["last_s"] = s.last_s;
  put(json, "interval_s", s.interval_s);
  put(json, "update_s", s.update_s);
  put(json, "gap_over_s", s.gap_over_s);
  put(json, "min_dwell_s", s.min_dwell_s);
  json["edges"] = s.edges;
  json["blips"] = s.blips;
  json["incomplete_cycles"] = s.incomplete_cycles;
  json["flagged_cycles"] = s.flagged_cycles;
  json["duplicate_stamps"] = s.duplicate_stamps;
  json["out_of_order_stamps"] = s.out_of_order_stamps;
  json["clock_steps"] = s.clock_steps;
  json["over_range"] = s.over_range;
  if (s.high_at_end) {
    json["state_at_end"] = *s.high_at_end ? "on" : "off";
    json["last_change_s"] = s.last_change_s;
    json["last_dwell_s"] = s.last_dwell_s();
  }
  if (s.trusted && s.state == ChannelState::cycling) json["drift"] = s.drifting;
  if (s.steady_from_cycle && s.steady.cycles > 0) {
    Json steady = {{"cycles", s.steady.cycles}};
    put_figures(steady, s.steady);
    json["steady"] = steady;
  }
  if (events != nullptr && events->count() > 0) {
    json["events"] = events_json(*events);
    json["events_total"] = events->count();
  }
  for (const auto& [key, value] : further) json[key] = value;
  return line(json);
}

std::string verdict_json(const CyclingJudgement& judgement, const std::string& position,
                         const std::optional<Life>& life, const std::string& record_id) {
  Json json = {{"type", "verdict"}, {"verdict", to_string(judgement.outcome)}};
  if (!record_id.empty()) json["record"] = record_id;
  json["headline"] = judgement.headline;
  json["scope"] = scope_json<Json>(judgement.scope);
  if (!judgement.required.empty()) json["required"] = scope_parts_json<Json>(judgement.required);
  json["position"] = position;
  if (!judgement.load_channel.empty()) json["load_channel"] = judgement.load_channel;
  if (!judgement.expected.empty()) json["load_should"] = judgement.expected;
  put(json, "supply_v", judgement.supply_v);
  if (!judgement.supply_from.empty()) json["supply_from"] = judgement.supply_from;
  if (const std::string heater = heater_word(judgement.heater); !heater.empty()) json["heater"] = heater;
  if (judgement.timing) put_timing(json, *judgement.timing);
  json["channels"] = Json::array();
  for (const ChannelFinding& finding : judgement.findings) {
    Json one = {
        {"channel", finding.channel}, {"role", to_string(finding.role)}, {"outcome", to_string(finding.outcome)}};
    if (!finding.word.empty()) one["kind"] = finding.word;
    one["sentence"] = finding.sentence;
    json["channels"].push_back(one);
  }
  if (life) json["life"] = life_json(*life);
  json["remarks"] = judgement.remarks;
  return line(json);
}

Json drop_json(const ContactDrop& d) {
  Json json;
  json["type"] = "drop";
  json["contact"] = d.contact;
  json["position"] = d.position;
  json["pair"] = pair_json(d.pair);
  json["drop_v"] = d.drop.drop_v;
  json["U_drop_v"] = d.drop.U_drop_v;
  json["current_a"] = d.current.amps;
  json["U_current_a"] = d.current.U_amps;
  json["ohm"] = d.drop.ohm;
  json["U_ohm"] = d.drop.U_ohm;
  json["limit_ohm"] = d.limit_ohm;
  const bool seen = d.drop.state == DropState::seen;
  if (seen) json["spot_at_most_c"] = d.drop.spot_c;
  if (seen && d.rated_a > 0.0) {
    json["rated_current_a"] = d.rated_a;
    json["rated_heat_w"] = d.heat_w;
  }
  json["state"] = to_string(d.drop.state);
  json["zero_v"] = d.drop.zero_v;
  put(json, "zero_drift_v", d.drop.drift_v);
  put(json, "supply_shows_a", d.shown_a);
  put(json, "supply_shows_free_a", d.shown_free_a);
  put(json, "thermal_v", d.drop.thermal_v);
  json["outcome"] = to_string(d.drop.outcome);
  json["text"] = d.drop.sentence;
  return json;
}

namespace {

std::string line_of(const UnknownResult&) { return {}; }
std::string line_of(const ChannelSummary& value) { return summary_json(value.channel, value.summary, &value.events); }
std::string line_of(const TraceVerdict& value) {
  return verdict_json(value.judgement, value.position, value.life, value.record_id);
}
std::string line_of(const ContactDrop& value) { return line(drop_json(value)); }

std::string line_of(const DropTask& task) {
  return line(Json{{"type", "setup"},
                   {"position", task.position},
                   {"current_a", task.current.amps},
                   {"U_current_a", task.current.U_amps},
                   {"reversed", task.reversed}});
}

std::string line_of(const LearnSubject& subject) {
  Json json{{"type", "setup"},
            {"title", subject.title},
            {"knob", subject.knob},
            {"terminals", subject.terminals},
            {"exposed_metal", subject.exposed_metal},
            {"positions", subject.positions},
            {"beyond_ohm", subject.beyond_ohm}};
  put(json, "voltage_v", subject.voltage_v);
  put(json, "current_a", subject.current_a);
  return line(json);
}

std::string line_of(const LotUnitSetup& setup) {
  Json json{{"kind", "lot-unit"},
            {"lot", setup.lot},
            {"lot_number", setup.lot_number},
            {"place", setup.place},
            {"unit", setup.unit}};
  if (setup.leads) json["leads"] = {{"ohm", setup.leads->ohm}, {"resolution", setup.leads->resolution_ohm}};
  return line(json);
}

std::string line_of(const BenchCheckSetup& setup) { return line(Json{{"kind", "bench-check"}, {"lot", setup.lot}}); }

std::string line_of(const LearnedPart& part) {
  Json json{{"type", "learned"}, {"contacts", Json::array()}, {"elements", Json::array()}};
  for (const Contact& contact : part.learned.contacts)
    json["contacts"].push_back(
        {{"id", contact.id}, {"pair", pair_json(contact.between)}, {"closed_at", contact.closed_at}});
  for (const Element& element : part.learned.elements)
    json["elements"].push_back({{"id", element.id},
                                {"pair", pair_json(element.between)},
                                {"nominal_ohm", element.nominal_ohm},
                                {"tolerance_pct", element.tolerance_pct}});
  json["unconnected"] = part.learned.unconnected;
  json["open_questions"] = part.learned.ambiguities;
  json["profile"] = part.profile;
  return line(json);
}

}  // namespace

std::string result_line(const WorkResult& result) {
  if (!result.kept.empty()) return result.kept;
  return std::visit([](const auto& value) { return line_of(value); }, result.value);
}

}  // namespace switchwright
