// Which value of a batch lies in which table and column.
#include "record/schema.hpp"

namespace switchwright {

namespace {

const std::vector<Column> expectation_columns(const std::string& at) {
  return {{"position", at + "/position"},
          {"pair_first", at + "/pair/0"},
          {"pair_second", at + "/pair/1"},
          {"expected_state", at + "/state"},
          {"min_ohm", at + "/min_ohm", Kind::real},
          {"max_ohm", at + "/max_ohm", Kind::real},
          {"nominal_ohm", at + "/nominal_ohm", Kind::real},
          {"sound_max_ohm", at + "/sound_max_ohm", Kind::real},
          {"can_make_live", at + "/can_make_live", Kind::boolean},
          {"reason", at + "/reason"}};
}

std::vector<Column> voltage_expectation_columns(const std::string& at) {
  return {{"position", at + "/position"},
          {"pair_first", at + "/pair/0"},
          {"pair_second", at + "/pair/1"},
          {"expected_state", at + "/state"},
          {"min_v", at + "/min_v", Kind::real},
          {"max_v", at + "/max_v", Kind::real},
          {"bands", at + "/bands", Kind::list},
          {"nominal_v", at + "/nominal_v", Kind::real},
          {"stray_max_v", at + "/stray_max_v", Kind::real},
          {"live_is_critical", at + "/live_is_critical", Kind::boolean},
          {"reason", at + "/reason"}};
}

std::vector<Column> value_columns(const std::string& at) {
  return {{"quantity", at + "/quantity"},
          {"unit", at + "/unit"},
          {"state", at + "/state"},
          {"value", at + "/value", Kind::real},
          {"resolution", at + "/resolution", Kind::real},
          {"beyond", at + "/beyond", Kind::real},
          {"flags", at + "/flags", Kind::words}};
}

std::vector<Column> indication_columns(const std::string& at, bool with_seconds) {
  auto columns = value_columns(at);
  columns.push_back({"readings", at + "/readings", Kind::integer});
  columns.push_back({"spread", at + "/spread", Kind::real});
  columns.push_back({"from_at", at + "/from"});
  columns.push_back({"to_at", at + "/to"});
  if (with_seconds) {
    columns.push_back({"from_s", at + "/from_s", Kind::real});
    columns.push_back({"to_s", at + "/to_s", Kind::real});
  }
  return columns;
}

std::vector<Column> joined(std::vector<Column> a, const std::vector<Column>& b,
                           const std::vector<Column>& c = {}) {
  a.insert(a.end(), b.begin(), b.end());
  a.insert(a.end(), c.begin(), c.end());
  return a;
}

std::vector<Column> voltage_columns() {
  return joined(voltage_expectation_columns("/expected"), indication_columns("/indication", false),
                {{"volts", "/volts", Kind::real},
                 {"expanded_uncertainty", "/U", Kind::real},
                 {"outcome", "/outcome"},
                 {"kind", "/kind"},
                 {"severity", "/severity"},
                 {"sentence", "/sentence"}});
}

}  // namespace

const std::vector<Table>& tables() {
  static const std::vector<Table> all{
      {"meter",
       "/header/meter",
       true,
       {{"id", "/id"},
        {"title", "/title"},
        {"text", "/text"},
        {"serial", "/serial"},
        {"calibrated", "/calibrated"},
        {"port", "/port"}}},
      {"step",
       "/steps",
       false,
       {{"step", "/step", Kind::integer},
        {"kind", "/kind"},
        {"pair_first", "/pair/0"},
        {"pair_second", "/pair/1"},
        {"position", "/position"},
        {"instruction", "/instruction"},
        {"at", "/at"}}},
      {"reading", "/readings", false,
       joined({{"step", "/step", Kind::integer}}, value_columns(""),
              {{"at", "/at"}, {"at_s", "/at_s", Kind::real}, {"raw", "/raw", Kind::bytes}})},
      {"indication", "/indications", false,
       joined({{"step", "/step", Kind::integer},
               {"attempt", "/attempt", Kind::integer},
               {"contact_stated", "/contact_stated", Kind::boolean}},
              indication_columns("", true))},
      {"leads", "/leads", false, joined({{"when_taken", "/when"}}, indication_columns("", true))},
      {"event", "/events", false, {{"at", "/at"}, {"kind", "/kind"}, {"text", "/text"}}},
      {"acknowledgement",
       "/acknowledgements",
       false,
       {{"at", "/at"}, {"what", "/what"}, {"who", "/who"}, {"how", "/how"}, {"text", "/text"}}},
      {"verdict",
       "/verdict",
       true,
       {{"outcome", "/outcome"},
        {"headline", "/headline"},
        {"scope", "/scope", Kind::list},
        {"required", "/required", Kind::list},
        {"plan", "/plan"},
        {"diagnosis", "/diagnosis"},
        {"assumed", "/assumed"},
        {"next_position", "/next_reading/position"},
        {"next_first", "/next_reading/pair/0"},
        {"next_second", "/next_reading/pair/1"},
        {"next_bits", "/next_reading/information_bits", Kind::real}}},
      {"explanation",
       "/verdict/explanations",
       false,
       {{"fault", "/fault"},
        {"words", "/words"},
        {"probability", "/probability", Kind::real},
        {"same_readings_as", "/same_readings_as", Kind::list},
        {"hides", "/hides", Kind::list},
        {"consequences", "/consequences", Kind::list}}},
      {"left_out", "/verdict/left_out", false, expectation_columns("")},
      {"finding", "/verdict/findings", false,
       joined(expectation_columns("/expected"), indication_columns("/indication", false),
              {{"corrected", "/corrected", Kind::real},
               {"expanded_uncertainty", "/U", Kind::real},
               {"outcome", "/outcome"},
               {"continuity", "/continuity"},
               {"kind", "/kind"},
               {"severity", "/severity"},
               {"sound", "/sound"},
               {"witness", "/witness"},
               {"p_conform", "/p_conform", Kind::real},
               {"visits", "/visits", Kind::list},
               {"sentence", "/sentence"}})},
      {"stated",
       "/stated",
       false,
       {{"id", "/id"},
        {"value", "/value", Kind::real},
        {"beyond", "/beyond"},
        {"expanded_uncertainty", "/U", Kind::real},
        {"instrument", "/instrument"},
        {"due", "/due"},
        {"text", "/text"},
        {"at", "/at"}}},
      {"stated_finding",
       "/verdict/stated",
       false,
       {{"id", "/id"},
        {"quantity", "/quantity"},
        {"unit", "/unit"},
        {"what", "/what"},
        {"min", "/min", Kind::real},
        {"max", "/max", Kind::real},
        {"severity", "/severity"},
        {"must_be_stated", "/required", Kind::boolean},
        {"result", "/result", Kind::list},
        {"expanded_uncertainty", "/U", Kind::real},
        {"outcome", "/outcome"},
        {"sentence", "/sentence"}}},
      {"inspection",
       "/verdict/inspection",
       false,
       {{"ask", "/ask"}, {"severity", "/severity"}, {"answer", "/answer", Kind::boolean}, {"note", "/note"}}},
      {"not_measured", "/verdict/not_measured", false, expectation_columns("")},
      {"voltage", "/verdict/voltages", false, voltage_columns()},
      {"voltage_not_measured", "/verdict/voltages_not_measured", false, voltage_expectation_columns("")},
      {"supply", "/verdict/supply", false, voltage_columns()},
      {"remark", "/verdict/remarks", false, {{"text", ""}}},
      {"ended", "/ended", true, {{"at", ""}}},
      {"trace",
       "/trace",
       true,
       {{"position", "/position"},
        {"setting", "/setting"},
        {"supply_v", "/supply_v", Kind::real},
        {"load", "/load"},
        {"load_ohm", "/load_ohm", Kind::real},
        {"ambient_c", "/ambient_c", Kind::real}}},
      {"trace_channel",
       "/channels",
       false,
       {{"channel", "/channel", Kind::integer},
        {"name", "/name"},
        {"quantity", "/quantity"},
        {"role", "/role"},
        {"meter_id", "/meter/id"},
        {"meter_title", "/meter/title"},
        {"meter_text", "/meter/text"},
        {"port", "/meter/port"},
        {"meter_serial", "/meter/serial"},
        {"meter_calibrated", "/meter/calibrated"}}},
      {"sample",
       "/samples",
       false,
       {{"channel", "/channel", Kind::integer},
        {"t_s", "/t_s", Kind::real},
        {"state", "/state"},
        {"value", "/value", Kind::real},
        {"resolution", "/resolution", Kind::real},
        {"raw", "/raw", Kind::bytes}}},
      {"trace_result",
       "/results",
       false,
       {{"kind", "/kind"},
        {"channel", "/channel"},
        {"operations", "/operations", Kind::integer},
        {"json", "/json"}}},
  };
  return all;
}

const Table& record_table() {
  static const Table table{"record",
                           "/header",
                           true,
                           {{"id", "/id"},
                            {"kind", "/kind"},
                            {"started", "/started"},
                            {"tool_version", "/tool_version"},
                            {"operator", "/operator"},
                            {"part", "/part"},
                            {"serial", "/serial"},
                            {"profile_id", "/profile/id"},
                            {"profile_title", "/profile/title"},
                            {"profile_values", "/profile/values"},
                            {"profile_text", "/profile/text"},
                            {"hands", "/hands"},
                            {"rule", "/rule"},
                            {"plan", "/plan"},
                            {"stated_range", "/stated_range"},
                            {"ambient_c", "/ambient_c", Kind::real},
                            {"require", "/require", Kind::list},
                            {"k", "/k", Kind::real},
                            {"simulated", "/simulated", Kind::boolean},
                            {"claim_order", "/claim/order"},
                            {"appliance", "/claim/appliance"},
                            {"appliance_serial", "/claim/appliance_serial"},
                            {"date_code", "/claim/date_code"},
                            {"supplier", "/claim/supplier"},
                            {"supplier_lot", "/claim/lot"},
                            {"customer_remark", "/claim/remark"},
                            {"utc_offset_min", "/utc_offset_min", Kind::integer},
                            {"zone", "/zone"}}};
  return table;
}

}  // namespace switchwright
