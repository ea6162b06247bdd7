#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/choose/record_filter.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "cli/write_report.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/scope_json.hpp"
#include "switchwright/record/rescue.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

int check(const Store& store, const std::string& only) {
  bool whole = true, any = false;
  for (const std::string& fault : store.check_file()) {
    put_line("store  " + fault);
    whole = false;
  }
  for (const RecordSummary& record : store.list()) {
    if (!only.empty() && !record.id.starts_with(only)) continue;
    any = true;
    const std::string fault = store.check_chain(record.id);
    put_line(record.id + "  " + (fault.empty() ? "chain whole" : fault));
    whole = whole && fault.empty();
  }
  if (!only.empty() && !any) (void)store.load(only);  // says which names are near
  return whole ? 0 : 5;
}

int show_one(const Store& store, const RecordsOptions& options) {
  const Record record = load_record(store, options.id);
  if (options.json)
    make_exporter("json")->write(record, [](std::string_view piece) { put(std::string{piece}); });
  else
    put(record_in_short(record));
  return exit_code_of_shown(record, 0);
}

nlohmann::ordered_json json_of(const RecordSummary& record) {
  nlohmann::ordered_json line{{"type", "record"},
                              {"record", record.id},
                              {"kind", to_string(record.kind)},
                              {"started", iso8601(record.started)},
                              {"verdict", record.outcome},
                              {"part", record.part},
                              {"serial", record.serial},
                              {"profile", record.profile_id},
                              {"meter", record.meter_id},
                              {"operator", record.operator_name},
                              {"simulated", record.simulated}};
  const std::pair<const char*, std::string> further[] = {{"order", record.claim.order},
                                                         {"appliance", record.claim.appliance},
                                                         {"appliance_serial", record.claim.appliance_serial},
                                                         {"date_code", record.claim.date_code},
                                                         {"supplier", record.claim.supplier},
                                                         {"lot", record.claim.lot},
                                                         {"remark", record.claim.remark},
                                                         {"explained_by", record.fault}};
  for (const auto& [key, value] : further)
    if (!value.empty()) line[key] = value;
  if (record.scope) line["scope"] = scope_json<nlohmann::ordered_json>(*record.scope);
  if (!record.chain_fault.empty()) line["fault"] = record.chain_fault;
  return line;
}

std::string remark_on(const RecordSummary& record) {
  std::string remark;
  if (!record.chain_fault.empty()) remark += "NOT WHOLE ";
  if (!facts_of(record.kind).goes_unsaid) remark += to_string(record.kind);
  if (record.simulated) remark += " simulated";
  return remark;
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

/// A screenful; who wants more says so, or names what is wanted.
constexpr std::size_t newest_listed = 40;

int list(const Store& store, const RecordsOptions& options) {
  const RecordMatcher matcher(options.filter);
  const bool only_newest = matcher.takes_all() && !options.all && !options.json;
  Table table{{"record", "started", "verdict", "part", "serial", "profile", "operator", ""}};
  std::size_t listed = 0, seen = 0;
  int code = 0;
  store.walk([&](const RecordSummary& record) {
    if (only_newest && listed == newest_listed) return ++seen, false;
    ++seen;
    if (matcher.is_past(record)) return false;
    if (!matcher.fits(record)) return true;
    ++listed;
    if (!record.chain_fault.empty()) {
      options.json ? say(chain_warning(record.chain_fault))
                   : put_line(terminal_safe(chain_warning(record.chain_fault)));
      code = 5;
    }
    if (options.json)
      put_line(json_of(record).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
    else
      table.add({record.id, iso8601(record.started).substr(0, 16), verdict_word(record), terminal_safe(record.part),
                 terminal_safe(record.serial), record.profile_id, terminal_safe(record.operator_name),
                 remark_on(record)});
    return true;
  });
  if (options.json) return code;
  if (seen == 0)
    say("No record yet in " + store.path().string() + ". Start with: switchwright qualify");
  else if (listed == 0)
    say(fmt::format("None of {} records is like that.", store.count()));
  else
    put(stdout_is_terminal() ? table.text_within(terminal_size().columns, {3, 4, 5, 6, 2}) : table.text());
  if (seen > listed && only_newest)
    say(fmt::format(
        "The newest {} of {} records. --all lists every one; --serial, --part, --from and others find some.", listed,
        store.count()));
  return code;
}

}  // namespace

int run(const RecordsOptions& options) {
  Store store{store_place(options.store)};
  if (!options.restore.empty()) {
    put_line(restore_rescue_file(store, options.restore));
    return 0;
  }
  if (options.check) return check(store, options.id);
  if (!options.id.empty()) return show_one(store, options);
  return list(store, options);
}

}  // namespace switchwright::cli
