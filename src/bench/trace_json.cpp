// Trace events as JSON Lines.
#include <nlohmann/json.hpp>

#include "bench/keeping.hpp"
#include "switchwright/bench/trace_event.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/result_json.hpp"

namespace switchwright {

namespace {

using Json = nlohmann::ordered_json;

struct Writer {
  Json json;

  void type(const char* name) { json["type"] = name; }

  void operator()(const TraceOpened& e) {
    type("session");
    json["kind"] = "trace";
    json["record"] = e.header.id;
    json["profile"] = e.header.profile_id;
    json["position"] = e.setup.position;
    json["part"] = e.header.part;
    json["serial"] = e.header.serial;
    json["operator"] = e.header.operator_name;
    json["rule"] = e.header.rule;
    json["k"] = e.header.k;
    json["simulated"] = e.header.simulated;
    if (e.setup.supply_v) json["supply_v"] = *e.setup.supply_v;
    if (!e.setup.load.empty()) json["load"] = e.setup.load;
    if (e.setup.load_ohm) json["load_ohm"] = *e.setup.load_ohm;
    if (e.setup.ambient_c) json["ambient_c"] = *e.setup.ambient_c;
    if (!e.setup.setting.empty()) json["setting"] = e.setup.setting;
    json["channels"] = Json::array();
    for (const TraceChannel& channel : e.channels)
      json["channels"].push_back({{"channel", channel.name}, {"meter", channel.meter_id}, {"port", channel.port}});
    json["warnings"] = e.warnings;
  }
  void operator()(const TraceAcknowledged& e) {
    type("acknowledged");
    json["what"] = e.acknowledgement.what;
    json["who"] = e.acknowledgement.who;
    json["how"] = e.acknowledgement.how;
    json["text"] = e.acknowledgement.text;
  }
  void operator()(const ChannelKnown& e) {
    type("channel");
    json["channel"] = e.channel.name;
    json["quantity"] = e.channel.quantity;
    if (const auto quantity = quantity_named(e.channel.quantity)) json["unit"] = unit_of(*quantity);
  }
  void operator()(const SampleTaken& e) {
    type("sample");
    json["channel"] = e.name;
    json["t_s"] = e.sample.t_s;
    if (e.sample.state == ReadingState::finite) json["value"] = e.sample.value;
    if (e.sample.state != ReadingState::finite) json["state"] = word_for(e.sample.state);
    if (e.sample.state == ReadingState::over_range) json["over_range"] = true;
    if (e.sample.state == ReadingState::not_a_number) json["not_a_number"] = true;
  }
  void operator()(const EdgeSeen& e) {
    type("edge");
    json["channel"] = e.name;
    json["t_s"] = e.edge.t_s;
    json["edge"] = e.edge.rising ? "rising" : "falling";
    json["within_s"] = e.edge.interval_s;
    if (!e.edge.certain) json["in_a_gap"] = true;
  }
  void operator()(const CycleSeen& e) { json = Json::parse(cycle_json(e.name, e.cycle)); }
  void operator()(const Reconsidered& e) {
    type("reconsidered");
    json["channel"] = e.name;
    json["text"] = "the levels were mistaken at first: edges and cycles of this channel come again from its first";
  }
  void operator()(const TraceLink& e) {
    type("link");
    json["channel"] = e.name;
    json["state"] = word_for(e.change.state);
    json["detail"] = e.change.detail;
  }
  void operator()(const TraceNote& e) {
    type("note");
    json["kind"] = e.kind;
    json["text"] = e.text;
  }
  void operator()(const TraceEnded& e) {
    type("ended");
    json["kind"] = e.kind;
    json["text"] = e.text;
  }
  void operator()(const TraceJudged&) {}
};

}  // namespace

std::string to_json(const TraceEvent& event, Instant at) {
  if (const auto* judged = std::get_if<TraceJudged>(&event)) {
    std::string lines;
    for (const WorkResult& result : judged->results) lines += (lines.empty() ? "" : "\n") + result_line(result);
    return lines;
  }
  Writer writer;
  std::visit(writer, event);
  writer.json["time"] = iso8601(at.wall);
  return writer.json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace switchwright
