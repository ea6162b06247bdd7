#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/choose/places.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/scope_json.hpp"
#include "switchwright/record/rescue.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

int check(const Store& store, const std::string& only) {
  bool whole = true;
  for (const RecordSummary& record : store.list()) {
    if (!only.empty() && !record.id.starts_with(only)) continue;
    const std::string fault = store.check_chain(record.id);
    put_line(record.id + "  " + (fault.empty() ? "chain whole" : fault));
    whole = whole && fault.empty();
  }
  return whole ? 0 : 5;
}

/// "pass: continuity" where soundness is open: a pass never stands without its scope.
std::string verdict_word(const RecordSummary& record) {
  if (record.outcome != "pass") return record.outcome;
  if (!record.scope) return "pass, scope not kept";
  std::string word = "pass:";
  for (const ScopePart part : scope_parts)
    if ((*record.scope)[part].decided == Decided::pass) word += " " + to_string(part);
  return word;
}

}  // namespace

int run(const RecordsOptions& options) {
  Store store{store_place(options.store)};
  if (!options.restore.empty()) {
    put_line(restore_rescue_file(store, options.restore));
    return 0;
  }
  if (options.check) return check(store, options.id);
  if (!options.id.empty()) {
    Record record = store.load(options.id);
    if (record.header.kind == "trace") record = store.load(options.id, true);  // its figures come from the samples
    put(make_exporter(options.json ? "json" : "text")->render(record));
    return 0;
  }
  Table table{{"record", "started", "verdict", "part", "serial", "profile", "operator", ""}};
  for (const RecordSummary& record : store.list()) {
    if (options.json) {
      nlohmann::ordered_json json{{"type", "record"},
                                      {"record", record.id},
                                      {"kind", record.kind},
                                      {"started", iso8601(record.started)},
                                      {"verdict", record.outcome},
                                      {"part", record.part},
                                      {"serial", record.serial},
                                      {"profile", record.profile_id},
                                      {"meter", record.meter_id},
                                      {"operator", record.operator_name},
                                      {"simulated", record.simulated}};
      if (record.scope) json["scope"] = scope_json<nlohmann::ordered_json>(*record.scope);
      put_line(json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
    } else {
      table.add({record.id, iso8601(record.started).substr(0, 16), verdict_word(record), terminal_safe(record.part),
                 terminal_safe(record.serial), record.profile_id, terminal_safe(record.operator_name),
                 std::string{record.kind == "trace" || record.kind == "learn" || record.kind == "drop" || record.kind == "practice"
                                 ? record.kind
                                 : ""} + (record.simulated ? " simulated" : "")});
    }
  }
  if (options.json) return 0;
  if (table.empty())
    say("No record yet in " + store.path().string() + ". Start with: switchwright qualify");
  else
    put(table.text());
  return 0;
}

}  // namespace switchwright::cli
