// The parts of a record that only a trace has, as JSON and back.
#include <algorithm>
#include <cmath>

#include "record/json_parts.hpp"
#include "switchwright/record/result_json.hpp"

namespace switchwright {

using namespace json_parts;

namespace {

json setup_json(const TraceSetup& setup) {
  json object = json::object();
  put(object, "position", setup.position);
  put(object, "setting", setup.setting);
  put(object, "supply_v", setup.supply_v);
  put(object, "load", setup.load);
  put(object, "load_ohm", setup.load_ohm);
  put(object, "ambient_c", setup.ambient_c);
  return object;
}

json channel_json(const TraceChannel& channel) {
  json object;
  object["channel"] = channel.channel;
  put(object, "name", channel.name);
  put(object, "quantity", channel.quantity);
  put(object, "role", channel.role);
  json meter = json::object();
  put(meter, "id", channel.meter_id);
  put(meter, "title", channel.meter_title);
  put(meter, "text", channel.meter_text);
  put(meter, "port", channel.port);
  put(meter, "serial", channel.meter_serial);
  put(meter, "calibrated", channel.meter_calibrated);
  if (!meter.empty()) object["meter"] = std::move(meter);
  return object;
}

SampleRow sample_from(const json& object) {
  SampleRow sample;
  sample.channel = integer_at(object, "channel");
  sample.t_s = number_at(object, "t_s");
  const std::string state = text_at(object, "state");
  sample.state = state == word_for(ReadingState::over_range) ? ReadingState::over_range
                 : state.empty()                             ? ReadingState::finite
                                                             : ReadingState::not_a_number;
  sample.value = number_at(object, "value");
  sample.resolution = number_at(object, "resolution");
  sample.raw = bytes_of(text_at(object, "raw"));
  return sample;
}

}  // namespace

/// Finite is the rule and goes without saying: a long trace has many samples.
json sample_json(const SampleRow& sample) {
  json object;
  object["channel"] = sample.channel;
  object["t_s"] = std::round(sample.t_s * 1e6) / 1e6;
  if (sample.state == ReadingState::finite)
    put(object, "value", sample.value);
  else
    object["state"] = word_for(sample.state);
  if (sample.resolution > 0.0) put(object, "resolution", sample.resolution);
  put(object, "raw", hex(sample.raw));
  return object;
}

namespace {

json result_json(const WorkResult& result) {
  json object;
  put(object, "kind", result.kind);
  put(object, "channel", result.channel);
  object["operations"] = result.operations;
  put(object, "json", result_line(result));
  return object;
}

TraceChannel channel_from(const json& object) {
  const json meter = object.value("meter", json::object());
  return {integer_at(object, "channel"), text_at(object, "name"), text_at(object, "quantity"), text_at(meter, "id"),
          text_at(meter, "title"),       text_at(meter, "text"),  text_at(meter, "port"),      text_at(meter, "serial"),
          text_at(meter, "calibrated"),  text_at(object, "role")};
}

}  // namespace

void put_trace(json& object, const Batch& batch) {
  if (batch.trace) object["trace"] = setup_json(*batch.trace);
  put_rows(object, "channels", batch.channels, channel_json);
  put_rows(object, "samples", batch.samples, sample_json);
  put_rows(object, "results", batch.results, result_json);
}

void add_trace_json(const json& batch, Batch& record, Wanted wanted) {
  if (batch.contains("trace")) {
    const json& setup = batch["trace"];
    record.trace =
        TraceSetup{text_at(setup, "position"), text_at(setup, "setting"),          maybe_number_at(setup, "supply_v"),
                   text_at(setup, "load"),     maybe_number_at(setup, "load_ohm"), maybe_number_at(setup, "ambient_c")};
  }
  const auto rows = [&](const char* key) { return batch.value(key, json::array()); };
  for (const auto& row : rows("channels")) {
    const TraceChannel channel = channel_from(row);
    const auto known = std::find_if(record.channels.begin(), record.channels.end(),
                                    [&](const TraceChannel& c) { return c.channel == channel.channel; });
    if (known == record.channels.end())
      record.channels.push_back(channel);
    else
      *known = channel;
  }
  if (const auto samples = batch.find("samples"); wanted.samples && samples != batch.end())
    for (const auto& row : *samples) record.samples.push_back(sample_from(row));
  for (const auto& row : rows("results"))
    record.results.push_back(read_result(text_at(row, "kind"), text_at(row, "channel"),
                                         row.value("operations", std::int64_t{0}), text_at(row, "json")));
}

}  // namespace switchwright
