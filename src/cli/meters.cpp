#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::cli {

namespace {

std::string line_settings(const LinkSettings& link) {
  const char parity = link.parity == Parity::none ? 'N' : link.parity == Parity::odd ? 'O' : 'E';
  return fmt::format("{} {}{}{}", link.baud, link.data_bits, parity, link.stop_bits);
}

nlohmann::ordered_json json_of(const MeterDefinition& meter) {
  nlohmann::ordered_json json{{"type", "meter"},
                              {"id", meter.id},
                              {"title", meter.title},
                              {"provenance", meter.provenance},
                              {"line", line_settings(meter.link)},
                              {"decoder", meter.decoder.kind},
                              {"polled", meter.poll.has_value()},
                              {"update_rate_hz", meter.update_rate_hz},
                              {"accuracy", nlohmann::json::array()}};
  for (const AccuracyRow& row : meter.accuracy)
    json["accuracy"].push_back({{"quantity", name_of(row.quantity)},
                                {"full_scale", row.full_scale},
                                {"resolution", row.resolution},
                                {"percent_of_reading", row.percent_of_reading},
                                {"digits", row.digits}});
  return json;
}

void show(const MeterDefinition& meter) {
  put_line(terminal_safe(meter.id + ": " + meter.title));
  put_line("  from        " + terminal_safe(meter.provenance));
  put_line("  file        " + terminal_safe(meter.path.string()));
  put_line("  line        " + line_settings(meter.link) +
           (meter.link.dtr ? *meter.link.dtr ? ", DTR on" : ", DTR off" : "") +
           (meter.link.rts ? *meter.link.rts ? ", RTS on" : ", RTS off" : ""));
  put_line("  decoder     " + meter.decoder.kind + (meter.poll ? ", asked for each reading" : ", sends by itself"));
  put_line(fmt::format("  rate        {:g} readings/s", meter.update_rate_hz));
  std::vector<std::string> settable;
  for (const FunctionCommands& function : meter.functions) settable.emplace_back(dial_words(function.quantity));
  put_line("  function    " +
           (settable.empty() ? "set by the person at the dial" : "set by the tool: " + joined_with_and(settable)));
  put_line("  accuracy, +/-(percent of reading + digits)");
  Table table{{"quantity", "up to", "one digit", "accuracy"}};
  for (const AccuracyRow& row : meter.accuracy)
    table.add({std::string{name_of(row.quantity)}, human_value(row.full_scale, row.quantity),
               human_value(row.resolution, row.quantity),
               fmt::format("{:g} % + {:g} digits", row.percent_of_reading, row.digits)});
  put(table.text("    "));
}

}  // namespace

int run(const MetersOptions& options) {
  const SearchPath where = meter_places();
  if (!options.id.empty()) {
    refuse_near_command(options.id, list_meter_definitions(where), {"find", "check", "own"}, "meters");
    const MeterDefinition meter = load_meter_definition(options.id, where);
    options.json ? put_line(json_of(meter).dump()) : show(meter);
    return 0;
  }
  Table table{{"meter", "line", "what it speaks"}};
  for (const std::string& id : list_meter_definitions(where)) {
    const MeterDefinition meter = load_meter_definition(id, where);
    if (options.json)
      put_line(json_of(meter).dump());
    else
      table.add({meter.id, line_settings(meter.link), meter.title});
  }
  if (!options.json) put(table.text());
  return 0;
}

}  // namespace switchwright::cli
