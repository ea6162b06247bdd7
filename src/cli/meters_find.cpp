#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/meter/find.hpp"

namespace switchwright::cli {

namespace {

constexpr double good_score = 0.5;

std::string command_for(const FindCandidate& found) {
  return "switchwright read --meter " + shell_word(found.meter) + " --port " + shell_word(found.port);
}

std::string usb_words(const PortInfo& port) {
  if (port.vendor_id.empty()) return "built-in port";
  std::string words = "USB " + port.vendor_id + ":" + port.product_id;
  if (!port.product.empty()) words += " \"" + terminal_safe(port.product) + "\"";
  if (!port.serial.empty()) words += ", serial " + terminal_safe(port.serial);
  return words;
}

std::string example_words(const std::optional<Reading>& reading) {
  if (!reading) return "-";
  if (reading->state == ReadingState::over_range) return "over-range, " + std::string{dial_words(reading->quantity)};
  if (!reading->finite()) return "no number";
  return human_value(reading->value, reading->quantity, reading->resolution);
}

nlohmann::ordered_json json_of(const FindCandidate& c) {
  nlohmann::ordered_json json{{"type", "candidate"},    {"meter", c.meter},
                              {"port", c.port},         {"score", c.score},
                              {"frames", c.frames},     {"frames_per_s", c.frames_per_s},
                              {"rejected", c.rejected}, {"stray_bytes", c.stray_bytes},
                              {"asked", c.asked}};
  if (!c.identity.empty()) json["identity"] = c.identity;
  if (c.example) {
    json["quantity"] = name_of(c.example->quantity);
    json["over_range"] = c.example->state == ReadingState::over_range;
    if (c.example->finite()) json["value"] = c.example->value;
  }
  if (c.score >= good_score) json["command"] = command_for(c);
  return json;
}

struct Wanted {
  FindRequest request;
  std::vector<std::pair<PortInfo, std::string>> left_alone;  ///< with the reason
};

Wanted wanted(const MetersFindOptions& options) {
  Wanted all;
  all.request.ask = options.ask;
  all.request.listen_s = options.listen_s;
  for (const std::string& id : list_meter_definitions(meter_places()))
    all.request.definitions.push_back(load_meter_definition(id, meter_places()));
  all.request.ports = options.ports;
  if (!options.ports.empty()) return all;
  for (const PortInfo& port : list_ports()) {
    const std::string reason = left_alone_because(port);
    if (reason.empty())
      all.request.ports.push_back(port.by_id.empty() ? port.device : port.by_id);
    else
      all.left_alone.emplace_back(port, reason);
  }
  return all;
}

void print_json(const FindResult& result, const Wanted& all) {
  const auto line = [](const nlohmann::ordered_json& json) {
    put_line(json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
  };
  for (const FindCandidate& candidate : result.candidates) line(json_of(candidate));
  for (const FindNote& note : result.notes) line({{"type", "nothing-found"}, {"port", note.port}, {"text", note.text}});
  for (const auto& [port, reason] : all.left_alone)
    line({{"type", "left-alone"},
          {"port", port.device},
          {"vendor_id", port.vendor_id},
          {"product_id", port.product_id},
          {"product", port.product},
          {"serial", port.serial},
          {"reason", reason}});
}

void print(const FindResult& result, const Wanted& all) {
  bool first = true;
  const auto heading = [&](const char* text) {
    put_line((std::exchange(first, false) ? "" : "\n") + std::string{text});
  };
  if (!result.candidates.empty()) {
    Table table{{"meter", "port", "frames/s", "explained", "shows", ""}};
    for (const FindCandidate& c : result.candidates)
      table.add({c.meter, terminal_safe(c.port), fmt::format("{:.1f}", c.frames_per_s),
                 fmt::format("{:.0f} %", 100.0 * c.score), example_words(c.example),
                 c.asked ? terminal_safe(c.identity.empty() ? "answered" : c.identity) : "sends by itself"});
    put(table.text());
    first = false;
  }
  // The best definition of each port is the one to paste.
  std::map<std::string, std::vector<const FindCandidate*>> by_port;
  for (const FindCandidate& c : result.candidates)
    if (c.score >= good_score) by_port[c.port].push_back(&c);
  if (!by_port.empty()) heading("Use it with:");
  for (const auto& [port, found] : by_port) {
    put_line("  " + command_for(*found.front()));
    if (found.size() > 1 && found[1]->score > found[0]->score - 0.1)
      put_line(fmt::format("  ({} fits nearly as well: compare the value with the meter's display)", found[1]->meter));
  }
  if (!result.notes.empty()) heading("Nothing found at:");
  for (const FindNote& note : result.notes) put_line("  " + terminal_safe(note.port) + ": " + terminal_safe(note.text));
  if (!all.left_alone.empty()) heading("Left alone:");
  for (const auto& [port, reason] : all.left_alone)
    put_line("  " + port.device + " (" + usb_words(port) + "): " + reason);
}

/// @returns whether it went to its end; false: interrupted.
bool search(const Wanted& all, FindResult& result) {
  if (all.request.ports.empty()) return true;
  bool interrupted = false;
  Loop loop;
  const SystemClock clock;
  MeterFinder finder{loop, clock, all.request,
                     [&](FindResult found) {
                       result = std::move(found);
                       loop.stop();
                     },
                     [](const std::string& progress) { say(terminal_safe(progress)); }};
  const Interrupt interrupt{loop, [&] {
                              interrupted = true;
                              loop.stop();
                            }};
  loop.run();
  return !interrupted;
}

}  // namespace

std::optional<PluggedMeter> find_plugged_meter() {
  FindResult result;
  const Wanted all = wanted({});
  if (!search(all, result)) throw Error(ErrorKind::interrupted, "stopped before a meter was found");
  print(result, all);
  const auto good = std::find_if(result.candidates.begin(), result.candidates.end(),
                                 [](const FindCandidate& c) { return c.score >= good_score; });
  if (good == result.candidates.end()) return std::nullopt;
  return PluggedMeter{good->meter, good->port};
}

int run(const MetersFindOptions& options) {
  if (options.ask && options.ports.empty())
    throw Error(ErrorKind::usage, "asking means writing to a port, and the port may belong to a machine", "--ask",
                "name the meter's port with --port; switchwright ports lists them");
  for (const std::string& port : options.ports)
    if (port.starts_with("replay:"))
      throw Error(ErrorKind::usage, "a capture names its meter in its header", port, "play it with switchwright read");
  const Wanted all = wanted(options);
  FindResult result;
  if (!search(all, result)) return 130;
  options.json ? print_json(result, all) : print(result, all);
  const bool found = std::any_of(result.candidates.begin(), result.candidates.end(),
                                 [](const FindCandidate& c) { return c.score >= good_score; });
  if (found) return 0;
  if (all.request.ports.empty() && all.left_alone.empty())
    throw Error(ErrorKind::meter, "no serial port was found", "",
                "plug the meter's cable in, or name a port with --port");
  throw Error(ErrorKind::meter, "no meter was recognised", "",
              options.ask
                  ? "see the lines above; meters/README.md says how to add a meter"
                  : "switch the meter's data output on; a meter that only answers is found with --ask --port PORT");
}

}  // namespace switchwright::cli
