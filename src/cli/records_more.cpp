// `records export`, `records trend`, `records attach`, `records note`.
#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "cli/choose/claim.hpp"
#include "cli/choose/places.hpp"
#include "cli/choose/record_filter.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "cli/write_report.hpp"
#include "core/escape.hpp"
#include "switchwright/analysis/trend.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/additions.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/trend_picture.hpp"

namespace switchwright::cli {

namespace {

using nlohmann::ordered_json;

struct Field {
  const char* name;
  std::string (*of)(const RecordSummary&);
};
const Field fields[] = {
    {"record", [](const RecordSummary& r) { return r.id; }},
    {"kind", [](const RecordSummary& r) { return to_string(r.kind); }},
    {"started", [](const RecordSummary& r) { return iso8601(r.started); }},
    {"verdict", [](const RecordSummary& r) { return r.outcome; }},
    {"explained_by", [](const RecordSummary& r) { return r.fault; }},
    {"part", [](const RecordSummary& r) { return r.part; }},
    {"serial", [](const RecordSummary& r) { return r.serial; }},
    {"profile", [](const RecordSummary& r) { return r.profile_id; }},
    {"meter", [](const RecordSummary& r) { return r.meter_id; }},
    {"operator", [](const RecordSummary& r) { return r.operator_name; }},
    {"order", [](const RecordSummary& r) { return r.claim.order; }},
    {"appliance", [](const RecordSummary& r) { return r.claim.appliance; }},
    {"appliance_serial", [](const RecordSummary& r) { return r.claim.appliance_serial; }},
    {"date_code", [](const RecordSummary& r) { return r.claim.date_code; }},
    {"supplier", [](const RecordSummary& r) { return r.claim.supplier; }},
    {"lot", [](const RecordSummary& r) { return r.claim.lot; }},
    {"remark", [](const RecordSummary& r) { return r.claim.remark; }},
    {"simulated", [](const RecordSummary& r) { return std::string(r.simulated ? "true" : "false"); }},
    {"chain_fault", [](const RecordSummary& r) { return r.chain_fault; }},
};

/// RFC 4180: comma, CRLF, a header line.
std::string csv_of(const std::vector<RecordSummary>& records) {
  std::string text;
  for (const Field& field : fields) text += (text.empty() ? "" : ",") + std::string(field.name);
  text += "\r\n";
  for (const RecordSummary& record : records) {
    bool first = true;
    for (const Field& field : fields) {
      text += (first ? "" : ",") + csv_text(field.of(record));
      first = false;
    }
    text += "\r\n";
  }
  return text;
}

std::string json_lines_of(const std::vector<RecordSummary>& records) {
  std::string text;
  for (const RecordSummary& record : records) {
    ordered_json line{{"type", "record"}};
    for (const Field& field : fields)
      if (const std::string value = field.of(record); !value.empty()) line[field.name] = value;
    line["simulated"] = record.simulated;
    text += line.dump(-1, ' ', false, ordered_json::error_handler_t::replace) + "\n";
  }
  return text;
}

std::string figure_words(const std::optional<TrendFigure>& figure, double factor, const char* unit) {
  if (!figure) return "-";
  std::string text = fmt::format("{:.4g}", figure->mean * factor);
  if (figure->sd)
    text +=
        fmt::format(" (sd {:.2g}, {:.4g} to {:.4g})", *figure->sd * factor, figure->min * factor, figure->max * factor);
  return text + " " + unit;
}

std::string fault_words(const TrendGroup& group) {
  std::string text;
  for (const auto& [kind, count] : group.faults) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", count, kind);
  return text.empty() ? "-" : text;
}

ordered_json json_of(const std::optional<TrendFigure>& figure) {
  ordered_json json{{"count", figure->count}, {"mean", figure->mean}, {"min", figure->min}, {"max", figure->max}};
  if (figure->sd) json["sd"] = *figure->sd;
  return json;
}

ordered_json json_of(const char* by, const TrendGroup& group) {
  ordered_json line{{"type", "trend"},        {"by", by},
                    {"name", group.name},     {"records", group.records},
                    {"failed", group.failed}, {"undecided", group.undecided}};
  if (group.contact_ohm) line["contact_ohm"] = json_of(group.contact_ohm);
  if (group.heater_ohm) line["heater_ohm"] = json_of(group.heater_ohm);
  if (group.duty) line["duty"] = json_of(group.duty);
  if (group.period_s) line["period_s"] = json_of(group.period_s);
  line["faults"] = group.faults;
  return line;
}

constexpr std::pair<TrendBy, const char*> groupings[] = {
    {TrendBy::week, "week"}, {TrendBy::supplier, "supplier"}, {TrendBy::lot, "lot"}};

}  // namespace

int run(const RecordsExportOptions& options) {
  const std::string ending = std::filesystem::path{options.output}.extension().string();
  const std::string format = !options.format.empty()                   ? options.format
                             : ending == ".jsonl" || ending == ".json" ? "jsonl"
                                                                       : "csv";
  const Store store{store_place(options.store)};
  const auto records = matching(store, options.filter);
  const std::string text = format == "csv" ? csv_of(records) : json_lines_of(records);
  if (options.output.empty() || options.output == "-")
    put(text);
  else
    write_file_durably(options.output, text);
  for (const RecordSummary& record : records)
    if (!record.chain_fault.empty()) return 5;  // told in its own column
  return 0;
}

int run(const RecordsTrendOptions& options) {
  if (!options.picture.empty() && std::filesystem::path{options.picture}.extension() != ".svg")
    throw Error(ErrorKind::usage, "a trend is drawn as SVG", options.picture, "let the name end in .svg");
  const Store store{store_place(options.store)};
  std::vector<TrendPoint> points;
  std::size_t broken = 0;
  for (const RecordSummary& record : matching(store, options.filter)) {
    if (record.simulated != options.simulated) continue;  // never mixed
    if (record.outcome == "unfinished") continue;
    const Record whole = store.load(record.id);
    if (!whole.chain_fault.empty()) ++broken;
    if (auto point = trend_point(whole, record.fault)) points.push_back(std::move(*point));
  }
  if (broken > 0) say(fmt::format("{} of the records were changed after they were written; they are left out", broken));
  if (points.empty()) {
    say(options.simulated ? "No finished simulated record is like that."
                          : "No finished record of a real part is like that (--simulated takes the simulated ones).");
    return broken > 0 ? 5 : 0;
  }
  for (const auto& [by, name] : groupings) {
    const auto groups = trend_groups(points, by);
    if (options.json) {
      for (const TrendGroup& group : groups)
        put_line(json_of(name, group).dump(-1, ' ', false, ordered_json::error_handler_t::replace));
      continue;
    }
    Table table{
        {name, "records", "fail", "undecided", "largest contact, mean", "heater", "duty", "period", "fault kinds"}};
    for (const TrendGroup& group : groups)
      table.add({terminal_safe(group.name), fmt::format("{}", group.records), fmt::format("{}", group.failed),
                 fmt::format("{}", group.undecided), figure_words(group.contact_ohm, 1.0, "ohm"),
                 figure_words(group.heater_ohm, 1.0, "ohm"), figure_words(group.duty, 100.0, "%"),
                 figure_words(group.period_s, 1.0, "s"), fault_words(group)});
    put((by == TrendBy::week ? "" : "\n") + table.text());
  }
  if (!options.picture.empty()) {
    const std::string what = options.filter.part.empty() ? "all parts" : options.filter.part;
    write_file_durably(options.picture,
                       trend_picture(points, fmt::format("Trends of {}: {} records{}", what, points.size(),
                                                         options.simulated ? ", simulated" : "")));
    say("picture written to " + options.picture);
  }
  return broken > 0 ? 5 : 0;
}

int run(const RecordsAddOptions& options) {
  const std::string who = named_operator(options.operator_name);
  Store store{store_place(options.store)};
  const std::string id = load_whole_record(store, options.id).header.id;
  const Wall now = SystemClock{}.now().wall;
  Batch batch;
  if (!options.note.empty()) batch.events.push_back(event_of(AddedNote{now, who, options.note}));
  for (const std::string& file : options.files)
    batch.events.push_back(event_of(keep_file(store.path(), file, who, now)));
  if (batch.events.empty()) throw Error(ErrorKind::usage, "an empty note says nothing", "", "write what is to be kept");
  store.append(id, batch);
  put_line(fmt::format("Added to record {} by {}; the chain goes on to {}", id, terminal_safe(who),
                       store.load(id).chain_head));
  return 0;
}

}  // namespace switchwright::cli
