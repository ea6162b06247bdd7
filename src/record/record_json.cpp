#include "switchwright/record/record_json.hpp"

#include "record/json_parts.hpp"
#include "record/lot_json.hpp"
#include "switchwright/judge/scope_json.hpp"

namespace switchwright {

using namespace json_parts;

namespace {

void put_placement(json& object, int placement) {
  if (placement > 0) object["placement"] = placement;
}

json step_json(const StepRow& row) {
  json object;
  object["step"] = row.step;
  put(object, "kind", row.kind);
  if (!row.pair_first.empty() || !row.pair_second.empty())
    object["pair"] = {utf8(row.pair_first), utf8(row.pair_second)};
  put(object, "position", row.position);
  put(object, "instruction", row.instruction);
  object["at"] = iso8601(row.at);
  put_placement(object, row.placement);
  return object;
}

StepRow step_from(const json& object) {
  StepRow row;
  row.step = integer_at(object, "step");
  row.kind = text_at(object, "kind");
  if (object.contains("pair")) {
    row.pair_first = object["pair"].at(0).get<std::string>();
    row.pair_second = object["pair"].at(1).get<std::string>();
  }
  row.position = text_at(object, "position");
  row.instruction = text_at(object, "instruction");
  row.at = parse_iso8601(text_at(object, "at"));
  row.placement = integer_at(object, "placement", 0);
  return row;
}

json indication_row_json(const IndicationRow& row, const TimeBase& base) {
  json object = indication_json(row.indication, &base);
  object["step"] = row.step;
  object["attempt"] = row.attempt;
  object["contact_stated"] = row.contact_stated;
  put_placement(object, row.placement);
  return object;
}

IndicationRow indication_row_from(const json& object, Wall started) {
  return {integer_at(object, "step"), integer_at(object, "attempt", 1), indication_from(object, started),
          object.value("contact_stated", false), integer_at(object, "placement", 0)};
}

json event_json(const EventRow& row) {
  json object;
  object["at"] = iso8601(row.at);
  put(object, "kind", row.kind);
  put(object, "text", row.text);
  put_placement(object, row.placement);
  return object;
}

json acknowledgement_json(const Acknowledgement& row) {
  json object;
  object["at"] = iso8601(row.at);
  put(object, "what", row.what);
  put(object, "who", row.who);
  put(object, "how", row.how);
  put(object, "text", row.text);
  return object;
}

json stated_json(const StatedResult& row) {
  json object = stated_result_json(row);
  object["at"] = iso8601(row.at);
  return object;
}

json leads_json(const char* when, const Indication& indication, const TimeBase& base) {
  json object = indication_json(indication, &base);
  object["when"] = when;
  return object;
}

constexpr std::pair<const char*, std::string Claim::*> claim_keys[] = {
    {"order", &Claim::order},         {"appliance", &Claim::appliance}, {"appliance_serial", &Claim::appliance_serial},
    {"date_code", &Claim::date_code}, {"supplier", &Claim::supplier},   {"lot", &Claim::lot},
    {"remark", &Claim::remark}};

}  // namespace

json header_json(const RecordHeader& header) {
  json object;
  put(object, "id", header.id);
  object["kind"] = to_string(header.kind);
  object["started"] = iso8601(header.started);
  put(object, "tool_version", header.tool_version);
  put(object, "operator", header.operator_name);
  put(object, "part", header.part);
  put(object, "serial", header.serial);
  json profile = json::object();
  put(profile, "id", header.profile_id);
  put(profile, "title", header.profile_title);
  put(profile, "values", header.profile_values);
  put(profile, "text", header.profile_text);
  if (!profile.empty()) object["profile"] = std::move(profile);
  json meter = json::object();
  put(meter, "id", header.meter_id);
  put(meter, "title", header.meter_title);
  put(meter, "text", header.meter_text);
  put(meter, "serial", header.meter_serial);
  put(meter, "calibrated", header.meter_calibrated);
  put(meter, "port", header.port);
  if (!meter.empty()) object["meter"] = std::move(meter);
  put(object, "hands", header.hands);
  put(object, "rule", header.rule);
  put(object, "plan", header.plan);
  put(object, "stated_range", header.stated_range);
  put(object, "ambient_c", header.ambient_c);
  if (!header.require.empty()) object["require"] = scope_parts_json<json>(header.require);
  put(object, "k", header.k);
  object["simulated"] = header.simulated;
  json claim = json::object();
  for (const auto& [key, member] : claim_keys) put(claim, key, header.claim.*member);
  if (!claim.empty()) object["claim"] = std::move(claim);
  if (header.utc_offset_min) object["utc_offset_min"] = *header.utc_offset_min;
  put(object, "zone", header.zone);
  return object;
}

namespace {

RecordKind kind_from(const json& header) {
  const std::string word = text_at(header, "kind");
  if (const auto kind = record_kind_named(word)) return *kind;
  throw std::invalid_argument("\"" + word + "\" is no kind of record that this version knows");
}

}  // namespace

RecordHeader header_from_json(const json& object) {
  RecordHeader header;
  header.id = text_at(object, "id");
  header.kind = kind_from(object);
  header.started = parse_iso8601(text_at(object, "started"));
  header.tool_version = text_at(object, "tool_version");
  header.operator_name = text_at(object, "operator");
  header.part = text_at(object, "part");
  header.serial = text_at(object, "serial");
  const json profile = object.value("profile", json::object());
  header.profile_id = text_at(profile, "id");
  header.profile_title = text_at(profile, "title");
  header.profile_values = text_at(profile, "values");
  header.profile_text = text_at(profile, "text");
  const json meter = object.value("meter", json::object());
  header.meter_id = text_at(meter, "id");
  header.meter_title = text_at(meter, "title");
  header.meter_text = text_at(meter, "text");
  header.meter_serial = text_at(meter, "serial");
  header.meter_calibrated = text_at(meter, "calibrated");
  header.port = text_at(meter, "port");
  header.hands = text_at(object, "hands");
  header.rule = text_at(object, "rule");
  header.plan = text_at(object, "plan");
  header.stated_range = text_at(object, "stated_range");
  header.ambient_c = maybe_number_at(object, "ambient_c");
  if (object.contains("require")) header.require = scope_parts_from(object["require"]);
  header.k = number_at(object, "k", 2.0);
  header.simulated = object.value("simulated", false);
  const json claim = object.value("claim", json::object());
  for (const auto& [key, member] : claim_keys) header.claim.*member = text_at(claim, key);
  if (object.contains("utc_offset_min")) header.utc_offset_min = integer_at(object, "utc_offset_min");
  header.zone = text_at(object, "zone");
  return header;
}

json batch_json(const Batch& batch, const TimeBase& base) {
  json object = json::object();
  put_rows(object, "steps", batch.steps, step_json);
  put_rows(object, "readings", batch.readings, [&](const ReadingRow& row) { return reading_json(row, base); });
  put_rows(object, "indications", batch.indications,
           [&](const IndicationRow& row) { return indication_row_json(row, base); });
  put_rows(object, "events", batch.events, event_json);
  put_rows(object, "acknowledgements", batch.acknowledgements, acknowledgement_json);
  put_rows(object, "stated", batch.stated, stated_json);
  json leads = json::array();
  if (batch.leads_before) leads.push_back(leads_json("before", *batch.leads_before, base));
  if (batch.leads_after) leads.push_back(leads_json("after", *batch.leads_after, base));
  if (!leads.empty()) object["leads"] = std::move(leads);
  if (batch.verdict) object["verdict"] = verdict_json(*batch.verdict);
  if (batch.ended) object["ended"] = iso8601(*batch.ended);
  put_trace(object, batch);
  put_lot(object, batch);
  return object;
}

void add_batch_json(const json& batch, Wall started, Batch& record, Wanted wanted) {
  const auto rows = [&](const char* key) { return batch.value(key, json::array()); };
  for (const auto& row : rows("steps")) record.steps.push_back(step_from(row));
  if (wanted.readings)
    for (const auto& row : rows("readings")) record.readings.push_back(reading_from(row));
  for (const auto& row : rows("indications")) record.indications.push_back(indication_row_from(row, started));
  for (const auto& row : rows("events"))
    record.events.push_back({parse_iso8601(text_at(row, "at")), text_at(row, "kind"), text_at(row, "text"),
                             integer_at(row, "placement", 0)});
  for (const auto& row : rows("acknowledgements"))
    record.acknowledgements.push_back({parse_iso8601(text_at(row, "at")), text_at(row, "what"), text_at(row, "who"),
                                       text_at(row, "how"), text_at(row, "text")});
  for (const auto& row : rows("stated")) record.stated.push_back(stated_result_from(row));
  for (const auto& row : rows("leads"))
    (text_at(row, "when") == "before" ? record.leads_before : record.leads_after) = indication_from(row, started);
  if (batch.contains("verdict")) record.verdict = verdict_from(batch["verdict"], started);
  if (batch.contains("ended")) record.ended = parse_iso8601(batch["ended"].get<std::string>());
  add_trace_json(batch, record, wanted);
  add_lot_to_record(batch, record);
}

json record_json(const Record& record) {
  const TimeBase base{record.header.started, Monotonic{}};
  json object = batch_json(record, base);
  object["schema_version"] = record_json_version;
  object["header"] = header_json(record.header);
  for (const char* list : {"steps", "readings", "indications", "events", "acknowledgements", "leads"})
    if (!object.contains(list)) object[list] = json::array();
  if (record.verdict)
    for (const char* list : {"findings", "inspection", "not_measured", "remarks"})
      if (!object["verdict"].contains(list)) object["verdict"][list] = json::array();
  json chain;
  chain["batches"] = record.batches;
  put(chain, "head", record.chain_head);
  put(chain, "fault", record.chain_fault);
  object["chain"] = std::move(chain);
  return object;
}

}  // namespace switchwright
