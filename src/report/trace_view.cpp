#include "report/trace_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/escape.hpp"
#include "report/wrap.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/cycling.hpp"

namespace switchwright {

bool is_trace(const Record& record) { return record.header.kind == RecordKind::trace; }

std::vector<NamedFact> trace_facts(const Record& record) {
  const TraceSetup setup = record.trace.value_or(TraceSetup{});
  const auto fact = [](const char* name, const std::string& value, const char* otherwise) {
    return NamedFact{name, value.empty() ? otherwise : value, value.empty()};
  };
  std::vector<NamedFact> list;
  list.push_back(fact("Position", setup.position, "not stated"));
  if (!setup.setting.empty()) list.push_back(fact("Setting", setup.setting, ""));
  list.push_back(fact("Supply, as stated", setup.supply_v ? fmt::format("{:g} V", *setup.supply_v) : "", "not stated"));
  list.push_back(fact("Load, as stated",
                      setup.load_ohm ? fmt::format("{} ({:.4g} ohm)", setup.load, *setup.load_ohm) : setup.load,
                      "not stated"));
  list.push_back(fact("Ambient temperature", setup.ambient_c ? fmt::format("{:g} \xC2\xB0\x43", *setup.ambient_c) : "",
                      "not stated"));
  for (const TraceChannel& channel : record.channels) {
    list.push_back(
        fact("Channel",
             fmt::format("{}: {}{}{}, at {}", channel.name, channel.quantity, channel.quantity.empty() ? "" : ", ",
                         channel.meter_title.empty() ? channel.meter_id : channel.meter_title, channel.port),
             ""));
    list.push_back(fact("  its meter's serial number", channel.meter_serial, "not stated"));
    list.push_back(fact("  its meter last calibrated", channel.meter_calibrated,
                        "unknown: these readings are traceable to nothing"));
  }
  return list;
}

std::vector<std::string> trace_cautions() {
  return {
      "Local codes, the appliance maker's instructions and licensed practice come first. This report "
      "replaces none of "
      "them.",
      "Mains voltage kills. What is told here was measured on live parts, which is work for qualified "
      "persons: isolated "
      "and residual-current protected bench supply, fused leads, a meter and leads of a suitable measurement "
      "category, "
      "cover on.",
      "A control is never the means of disconnection: unplug, or lock out the supply, and prove it dead "
      "before anybody "
      "touches the wiring. A load that was off in this trace was not isolated.",
      "The figures hold for this one part with this supply, this load and this surrounding temperature, for "
      "as long as "
      "was recorded.",
  };
}

std::string trace_text(const Record& record) {
  const TraceAnalysis analysis = reported_trace(record);
  std::string out = "\nCYCLING\n";
  for (const TraceChannelAnalysis& channel : analysis.channels)
    out += summary_text(channel.name, channel.unit, channel.told()) + "\n";
  if (analysis.judgement) {
    out += record.verdict ? "JUDGEMENT\n" : "JUDGEMENT (the record is unfinished)\n";
    out += judgement_text(*analysis.judgement, analysis.life);
  } else {
    out += "  The profile as kept cannot be read by this version, so the figures stand without a judgement.\n";
  }
  for (const std::string& difference : analysis.differences) out += wrapped("  ! ", "    ", line_safe(difference));
  return out;
}

void trace_csv(const Record& record, const DocumentSink& sink) {
  std::string out = "t_s";
  for (const TraceChannel& channel : record.channels) {
    const auto quantity = quantity_named(channel.quantity);
    out += "," + csv_text(quantity ? fmt::format("{} ({})", channel.name, unit_of(*quantity)) : channel.name);
  }
  out += "\r\n";
  // In the order of their arrival, which is the order of time: all meters are stamped by one clock.
  record.each_sample([&](const SampleRow& row) {
    out += fmt::format("{:.6f}", row.t_s);
    for (const TraceChannel& channel : record.channels) {
      out += ',';
      if (channel.channel != row.channel) continue;
      if (row.state == ReadingState::over_range) out += "OL";
      // As many decimals as the meter showed: analyze takes the digit from them.
      if (row.state == ReadingState::finite)
        out += row.resolution > 0.0 && row.resolution < 1.0
                   ? fmt::format("{:.{}f}", row.value,
                                 std::min(9, static_cast<int>(std::ceil(-std::log10(row.resolution) - 1e-9))))
                   : fmt::format("{:.10g}", row.value);
    }
    out += "\r\n";
    if (out.size() < (1U << 16U)) return;
    sink(out);
    out.clear();
  });
  sink(out);
}

}  // namespace switchwright
