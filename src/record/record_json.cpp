#include "record/record_json.hpp"

#include <array>
#include <chrono>
#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <utility>

namespace switchwright {

using nlohmann::json;

namespace {

// ---- Words on disk. Persistent: add, never change. ----
template <typename Enum, std::size_t N>
using Words = std::array<std::pair<Enum, const char*>, N>;

constexpr Words<PairState, 4> pair_states{{{PairState::open, "open"},
                                           {PairState::closed, "closed"},
                                           {PairState::element, "element"},
                                           {PairState::not_checked, "not-checked"}}};
constexpr Words<Outcome, 3> outcomes{
    {{Outcome::pass, "pass"}, {Outcome::fail, "fail"}, {Outcome::undecided, "undecided"}}};
constexpr Words<DeviationKind, 9> kinds{{{DeviationKind::stays_open, "stays-open"},
                                         {DeviationKind::stays_closed, "stays-closed"},
                                         {DeviationKind::high_resistance, "high-resistance"},
                                         {DeviationKind::leaks, "leaks"},
                                         {DeviationKind::out_of_band, "out-of-band"},
                                         {DeviationKind::dead, "dead"},
                                         {DeviationKind::live, "live"},
                                         {DeviationKind::low_voltage, "low-voltage"},
                                         {DeviationKind::inspection, "inspection"}}};
constexpr Words<Severity, 3> severities{
    {{Severity::critical, "critical"}, {Severity::major, "major"}, {Severity::minor, "minor"}}};
constexpr Words<Witness, 4> witnesses{{{Witness::not_needed, "not-needed"},
                                       {Witness::witnessed, "witnessed"},
                                       {Witness::stated, "stated"},
                                       {Witness::missing, "missing"}}};
constexpr Words<ReadingState, 3> states{{{ReadingState::finite, "finite"},
                                         {ReadingState::over_range, "over-range"},
                                         {ReadingState::not_a_number, "not-a-number"}}};

template <typename Enum, std::size_t N>
std::string word(const Words<Enum, N>& words, Enum value) {
  for (const auto& [known, text] : words)
    if (known == value) return text;
  throw std::invalid_argument("a value has no word on disk");
}

template <typename Enum, std::size_t N>
Enum value_of(const Words<Enum, N>& words, const std::string& text) {
  for (const auto& [known, spelled] : words)
    if (text == spelled) return known;
  throw std::invalid_argument("\"" + text + "\" is not a word this version knows");
}

// ---- Absent instead of empty. ----

/// JSON is UTF-8; a byte that is not becomes U+FFFD, so that what is stored and what is hashed stay the same.
std::string utf8(const std::string& text) {
  try {
    (void)json(text).dump();
    return text;
  } catch (const json::type_error&) {
    return json::parse(json(text).dump(-1, ' ', false, json::error_handler_t::replace)).get<std::string>();
  }
}

void put(json& object, const char* key, const std::string& text) {
  if (!text.empty()) object[key] = utf8(text);
}
void put(json& object, const char* key, double number) {
  if (std::isfinite(number)) object[key] = number;
}
void put(json& object, const char* key, const std::optional<double>& number) {
  if (number) put(object, key, *number);
}

std::string text_at(const json& object, const char* key) {
  return object.value(key, std::string{});
}
double number_at(const json& object, const char* key, double otherwise = 0.0) {
  return object.value(key, otherwise);
}
std::optional<double> maybe_number_at(const json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end()) return std::nullopt;
  return found->get<double>();
}

// ---- Bytes and times. ----

std::string hex(const std::string& bytes) {
  constexpr char digits[] = "0123456789abcdef";
  std::string text;
  for (const char c : bytes) {
    text += digits[static_cast<unsigned char>(c) >> 4U];
    text += digits[static_cast<unsigned char>(c) & 0xFU];
  }
  return text;
}

std::string bytes_of(const std::string& text) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < text.size(); i += 2)
    bytes += static_cast<char>(std::stoi(text.substr(i, 2), nullptr, 16));
  return bytes;
}

double seconds_from_start(Monotonic at, const TimeBase& base) {
  const auto ns = std::chrono::duration_cast<std::chrono::nanoseconds>(at - base.zero).count();
  return static_cast<double>(ns) / 1e9;
}

Monotonic monotonic_at(double seconds) {
  return Monotonic{std::chrono::duration_cast<Monotonic::duration>(from_seconds(seconds))};
}

// ---- Readings and indications. ----

json flags_json(const ReadingFlags& flags) {
  json list = json::array();
  if (flags.hold) list.push_back("hold");
  if (flags.relative) list.push_back("relative");
  if (flags.low_battery) list.push_back("low-battery");
  if (flags.autorange) list.push_back("autorange");
  if (flags.min_max) list.push_back("min-max");
  return list;
}

ReadingFlags flags_from(const json& object) {
  ReadingFlags flags;
  for (const auto& flag : object.value("flags", json::array())) {
    const auto name = flag.get<std::string>();
    flags.hold |= name == "hold";
    flags.relative |= name == "relative";
    flags.low_battery |= name == "low-battery";
    flags.autorange |= name == "autorange";
    flags.min_max |= name == "min-max";
  }
  return flags;
}

/// What a reading and an indication have in common.
template <typename Measured>
json value_json(const Measured& measured) {
  json object;
  object["quantity"] = std::string(name_of(measured.quantity));
  object["unit"] = std::string(unit_of(measured.quantity));
  object["state"] = word(states, measured.state);
  if (measured.state == ReadingState::finite) put(object, "value", measured.value);
  if (measured.resolution > 0.0) put(object, "resolution", measured.resolution);
  put(object, "beyond", measured.beyond);
  if (json flags = flags_json(measured.flags); !flags.empty()) object["flags"] = std::move(flags);
  return object;
}

template <typename Measured>
void value_from(const json& object, Measured& measured) {
  const auto quantity = quantity_named(text_at(object, "quantity"));
  if (!quantity)
    throw std::invalid_argument("\"" + text_at(object, "quantity") + "\" is no quantity this version knows");
  measured.quantity = *quantity;
  measured.state = value_of(states, text_at(object, "state"));
  measured.value = number_at(object, "value");
  measured.resolution = number_at(object, "resolution");
  measured.beyond = maybe_number_at(object, "beyond");
  measured.flags = flags_from(object);
}

json reading_json(const ReadingRow& row, const TimeBase& base) {
  json object = value_json(row.reading);
  object["step"] = row.step;
  object["at"] = iso8601(row.reading.at.wall);
  object["at_s"] = seconds_from_start(row.reading.at.monotonic, base);
  put(object, "raw", hex(row.reading.raw));
  return object;
}

ReadingRow reading_from(const json& object) {
  ReadingRow row;
  row.step = object.at("step").get<int>();
  value_from(object, row.reading);
  row.reading.at = {monotonic_at(object.at("at_s").get<double>()), parse_iso8601(text_at(object, "at"))};
  row.reading.raw = bytes_of(text_at(object, "raw"));
  return row;
}

/// @param base nullptr inside a finding: a finding may come from an earlier sitting, whose monotonic clock is
/// gone, so it carries wall times only.
json indication_json(const Indication& indication, const TimeBase* base) {
  json object = value_json(indication);
  object["readings"] = indication.readings;
  object["from"] = iso8601(indication.from.wall);
  object["to"] = iso8601(indication.to.wall);
  if (base != nullptr) {
    object["from_s"] = seconds_from_start(indication.from.monotonic, *base);
    object["to_s"] = seconds_from_start(indication.to.monotonic, *base);
  }
  return object;
}

Indication indication_from(const json& object, Wall started) {
  Indication indication;
  value_from(object, indication);
  indication.readings = object.value("readings", 0);
  indication.from.wall = parse_iso8601(text_at(object, "from"));
  indication.to.wall = parse_iso8601(text_at(object, "to"));
  const auto since = [&](Wall wall) { return std::chrono::duration<double>(wall - started).count(); };
  indication.from.monotonic = monotonic_at(number_at(object, "from_s", since(indication.from.wall)));
  indication.to.monotonic = monotonic_at(number_at(object, "to_s", since(indication.to.wall)));
  return indication;
}

// ---- What happened. ----

json step_json(const StepRow& row) {
  json object;
  object["step"] = row.step;
  put(object, "kind", row.kind);
  if (!row.pair_first.empty() || !row.pair_second.empty())
    object["pair"] = {utf8(row.pair_first), utf8(row.pair_second)};
  put(object, "position", row.position);
  put(object, "instruction", row.instruction);
  object["at"] = iso8601(row.at);
  return object;
}

StepRow step_from(const json& object) {
  StepRow row;
  row.step = object.at("step").get<int>();
  row.kind = text_at(object, "kind");
  if (object.contains("pair")) {
    row.pair_first = object["pair"].at(0).get<std::string>();
    row.pair_second = object["pair"].at(1).get<std::string>();
  }
  row.position = text_at(object, "position");
  row.instruction = text_at(object, "instruction");
  row.at = parse_iso8601(text_at(object, "at"));
  return row;
}

json indication_row_json(const IndicationRow& row, const TimeBase& base) {
  json object = indication_json(row.indication, &base);
  object["step"] = row.step;
  object["attempt"] = row.attempt;
  object["contact_stated"] = row.contact_stated;
  return object;
}

IndicationRow indication_row_from(const json& object, Wall started) {
  return {object.at("step").get<int>(), object.value("attempt", 1), indication_from(object, started),
          object.value("contact_stated", false)};
}

json event_json(const EventRow& row) {
  json object;
  object["at"] = iso8601(row.at);
  put(object, "kind", row.kind);
  put(object, "text", row.text);
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

json leads_json(const char* when, const Indication& indication, const TimeBase& base) {
  json object = indication_json(indication, &base);
  object["when"] = when;
  return object;
}

// ---- What was judged. ----

json expectation_json(const Expectation& expected) {
  json object;
  put(object, "position", expected.position);
  object["pair"] = {utf8(expected.pair.first()), utf8(expected.pair.second())};
  object["state"] = word_for(expected.state);
  put(object, "min_ohm", expected.ohm.min);
  put(object, "max_ohm", expected.ohm.max);
  put(object, "nominal_ohm", expected.nominal_ohm);
  put(object, "sound_max_ohm", expected.sound_max_ohm);
  object["can_make_live"] = expected.can_make_live;
  put(object, "reason", expected.reason);
  return object;
}

Expectation expectation_from(const json& object) {
  Expectation expected;
  expected.position = text_at(object, "position");
  expected.pair =
      Pair(object.at("pair").at(0).get<std::string>(), object.at("pair").at(1).get<std::string>());
  expected.state = value_of(pair_states, text_at(object, "state"));
  expected.ohm.min = number_at(object, "min_ohm", expected.ohm.min);
  expected.ohm.max = number_at(object, "max_ohm", expected.ohm.max);
  expected.nominal_ohm = maybe_number_at(object, "nominal_ohm");
  expected.sound_max_ohm = maybe_number_at(object, "sound_max_ohm");
  expected.can_make_live = object.value("can_make_live", false);
  expected.reason = text_at(object, "reason");
  return expected;
}

json finding_json(const Finding& finding) {
  json object;
  object["expected"] = expectation_json(finding.expected);
  object["indication"] = indication_json(finding.indication, nullptr);
  put(object, "corrected", finding.corrected);
  put(object, "U", finding.U);
  object["outcome"] = word_for(finding.outcome);
  if (finding.kind) object["kind"] = word_for(*finding.kind);
  if (finding.severity) object["severity"] = word_for(*finding.severity);
  if (finding.sound) object["sound"] = word_for(*finding.sound);
  object["witness"] = word_for(finding.witness);
  put(object, "sentence", finding.sentence);
  return object;
}

Finding finding_from(const json& object, Wall started) {
  Finding finding;
  finding.expected = expectation_from(object.at("expected"));
  finding.indication = indication_from(object.at("indication"), started);
  finding.corrected = maybe_number_at(object, "corrected");
  finding.U = maybe_number_at(object, "U");
  finding.outcome = value_of(outcomes, text_at(object, "outcome"));
  if (object.contains("kind")) finding.kind = value_of(kinds, text_at(object, "kind"));
  if (object.contains("severity")) finding.severity = value_of(severities, text_at(object, "severity"));
  if (object.contains("sound")) finding.sound = value_of(outcomes, text_at(object, "sound"));
  finding.witness = value_of(witnesses, text_at(object, "witness"));
  finding.sentence = text_at(object, "sentence");
  return finding;
}

json inspection_json(const InspectionFinding& finding) {
  json object;
  put(object, "ask", finding.question.ask);
  object["severity"] = word_for(finding.question.severity);
  if (finding.answer) object["answer"] = *finding.answer;
  put(object, "note", finding.note);
  return object;
}

InspectionFinding inspection_from(const json& object) {
  InspectionFinding finding;
  finding.question.ask = text_at(object, "ask");
  finding.question.severity = value_of(severities, text_at(object, "severity"));
  if (object.contains("answer")) finding.answer = object["answer"].get<bool>();
  finding.note = text_at(object, "note");
  return finding;
}

template <typename Rows, typename Function>
void put_rows(json& object, const char* key, const Rows& rows, Function&& one) {
  if (rows.empty()) return;
  json list = json::array();
  for (const auto& row : rows) list.push_back(one(row));
  object[key] = std::move(list);
}

json verdict_json(const Verdict& verdict) {
  json object;
  object["outcome"] = word_for(verdict.outcome);
  put(object, "headline", verdict.headline);
  put_rows(object, "findings", verdict.findings, finding_json);
  put_rows(object, "inspection", verdict.inspection, inspection_json);
  put_rows(object, "not_measured", verdict.not_measured, expectation_json);
  put_rows(object, "remarks", verdict.remarks, utf8);
  return object;
}

Verdict verdict_from(const json& object, Wall started) {
  Verdict verdict;
  verdict.outcome = value_of(outcomes, text_at(object, "outcome"));
  verdict.headline = text_at(object, "headline");
  for (const auto& row : object.value("findings", json::array()))
    verdict.findings.push_back(finding_from(row, started));
  for (const auto& row : object.value("inspection", json::array()))
    verdict.inspection.push_back(inspection_from(row));
  for (const auto& row : object.value("not_measured", json::array()))
    verdict.not_measured.push_back(expectation_from(row));
  for (const auto& row : object.value("remarks", json::array()))
    verdict.remarks.push_back(row.get<std::string>());
  return verdict;
}

}  // namespace

std::string word_for(PairState state) {
  return word(pair_states, state);
}
std::string word_for(Outcome outcome) {
  return word(outcomes, outcome);
}
std::string word_for(DeviationKind kind) {
  return word(kinds, kind);
}
std::string word_for(Severity severity) {
  return word(severities, severity);
}
std::string word_for(Witness witness) {
  return word(witnesses, witness);
}

json header_json(const RecordHeader& header) {
  json object;
  put(object, "id", header.id);
  put(object, "kind", header.kind);
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
  put(object, "k", header.k);
  object["simulated"] = header.simulated;
  return object;
}

RecordHeader header_from_json(const json& object) {
  RecordHeader header;
  header.id = text_at(object, "id");
  header.kind = text_at(object, "kind");
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
  header.k = number_at(object, "k", 2.0);
  header.simulated = object.value("simulated", false);
  return header;
}

json batch_json(const Batch& batch, const TimeBase& base) {
  json object = json::object();
  put_rows(object, "steps", batch.steps, step_json);
  put_rows(object, "readings", batch.readings,
           [&](const ReadingRow& row) { return reading_json(row, base); });
  put_rows(object, "indications", batch.indications,
           [&](const IndicationRow& row) { return indication_row_json(row, base); });
  put_rows(object, "events", batch.events, event_json);
  put_rows(object, "acknowledgements", batch.acknowledgements, acknowledgement_json);
  json leads = json::array();
  if (batch.leads_before) leads.push_back(leads_json("before", *batch.leads_before, base));
  if (batch.leads_after) leads.push_back(leads_json("after", *batch.leads_after, base));
  if (!leads.empty()) object["leads"] = std::move(leads);
  if (batch.verdict) object["verdict"] = verdict_json(*batch.verdict);
  if (batch.ended) object["ended"] = iso8601(*batch.ended);
  return object;
}

void add_batch_to_record(const json& batch, Record& record) {
  const Wall started = record.header.started;
  const auto rows = [&](const char* key) { return batch.value(key, json::array()); };
  for (const auto& row : rows("steps")) record.steps.push_back(step_from(row));
  for (const auto& row : rows("readings")) record.readings.push_back(reading_from(row));
  for (const auto& row : rows("indications")) record.indications.push_back(indication_row_from(row, started));
  for (const auto& row : rows("events"))
    record.events.push_back({parse_iso8601(text_at(row, "at")), text_at(row, "kind"), text_at(row, "text")});
  for (const auto& row : rows("acknowledgements"))
    record.acknowledgements.push_back({parse_iso8601(text_at(row, "at")), text_at(row, "what"),
                                       text_at(row, "who"), text_at(row, "how"), text_at(row, "text")});
  for (const auto& row : rows("leads"))
    (text_at(row, "when") == "before" ? record.leads_before : record.leads_after) =
        indication_from(row, started);
  if (batch.contains("verdict")) record.verdict = verdict_from(batch["verdict"], started);
  if (batch.contains("ended")) record.ended = parse_iso8601(batch["ended"].get<std::string>());
}

json record_json(const Record& record) {
  const TimeBase base{record.header.started, Monotonic{}};
  Batch all;
  all.steps = record.steps;
  all.readings = record.readings;
  all.indications = record.indications;
  all.events = record.events;
  all.acknowledgements = record.acknowledgements;
  all.leads_before = record.leads_before;
  all.leads_after = record.leads_after;
  all.verdict = record.verdict;
  all.ended = record.ended;
  json object = batch_json(all, base);
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
  object["chain"] = std::move(chain);
  return object;
}

}  // namespace switchwright
