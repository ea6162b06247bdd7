#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/choose/own_meter.hpp"
#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"

namespace switchwright::cli {

namespace {

std::string or_dash(const std::string& text) { return text.empty() ? "-" : terminal_safe(text); }

std::string state_words(const OwnMeter& meter, Wall now) {
  const CalibrationState state = calibration_state(meter, now);
  return state == CalibrationState::overdue ? "OVERDUE" : to_string(state);
}

std::string json_line(const OwnMeter& meter, Wall now) {
  nlohmann::ordered_json json{{"type", "own-meter"}, {"name", meter.name}, {"meter", meter.definition}};
  const auto put_text = [&](const char* key, const std::string& text) {
    if (!text.empty()) json[key] = text;
  };
  put_text("serial", meter.serial);
  put_text("calibrated", meter.calibrated);
  put_text("due", meter.due);
  put_text("certificate", meter.certificate);
  json["calibration"] = to_string(calibration_state(meter, now));
  json["corrections"] = nlohmann::json::array();
  for (const Correction& row : meter.corrections)
    json["corrections"].push_back({{"quantity", name_of(row.quantity)},
                                   {"unit", unit_of(row.quantity)},
                                   {"from", row.from},
                                   {"to", row.to},
                                   {"add", row.add},
                                   {"U", row.U},
                                   {"k", row.k}});
  return json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

void show(const OwnMeter& meter, Wall now) {
  put_line(terminal_safe(meter.name));
  put_line("  definition   " + terminal_safe(meter.definition));
  put_line("  serial       " + or_dash(meter.serial));
  put_line("  calibrated   " + or_dash(meter.calibrated));
  put_line("  due          " + or_dash(meter.due));
  put_line("  certificate  " + or_dash(meter.certificate));
  put_line("  calibration  " + state_words(meter, now));
  for (const Correction& row : meter.corrections) put_line("  correction   " + correction_words(row));
  put_line("  use it with: switchwright qualify --own " + shell_word(meter.name));
}

void list(const std::vector<OwnMeter>& meters, Wall now) {
  if (meters.empty()) {
    say("No meter is in the ledger " + own_meters_file().string() +
        " yet. Enter one with: switchwright meters own add NAME --meter ID "
        "--serial TEXT --calibrated YYYY-MM-DD --due YYYY-MM-DD");
    return;
  }
  Table table{{"name", "definition", "serial", "calibrated", "due", "certificate", "calibration", "corrections"}};
  for (const OwnMeter& meter : meters)
    table.add({terminal_safe(meter.name), terminal_safe(meter.definition), or_dash(meter.serial),
               or_dash(meter.calibrated), or_dash(meter.due), or_dash(meter.certificate), state_words(meter, now),
               meter.corrections.empty() ? "none" : std::to_string(meter.corrections.size())});
  put(table.text());
}

void add(const MetersOwnOptions& options, std::vector<OwnMeter> meters, Wall now) {
  OwnMeter fresh{options.name, options.meter, options.serial, options.calibrated, options.due, options.certificate, {}};
  for (const std::string& text : options.corrections) fresh.corrections.push_back(parse_correction(text));
  (void)load_meter_definition(fresh.definition, meter_places());
  const auto found =
      std::find_if(meters.begin(), meters.end(), [&](const OwnMeter& m) { return m.name == fresh.name; });
  if (found != meters.end() && !options.replace)
    throw Error(ErrorKind::usage, "the ledger has a meter called \"" + terminal_safe(fresh.name) + "\" already",
                own_meters_file().string(), "give --replace to overwrite it, or another name");
  if (found != meters.end())
    *found = fresh;
  else
    meters.push_back(fresh);
  check_own_meters({fresh}, "the new entry");
  save_own_meters(own_meters_file(), meters);
  show(fresh, now);
}

void remove(const std::string& name, std::vector<OwnMeter> meters) {
  const OwnMeter gone = own_meter(name);
  std::erase_if(meters, [&](const OwnMeter& m) { return m.name == gone.name; });
  save_own_meters(own_meters_file(), meters);
  put_line("Taken out of the ledger: " + terminal_safe(gone.name) +
           (gone.serial.empty() ? "" : ", serial number " + terminal_safe(gone.serial)) +
           ". Records that name it stay as they are.");
}

}  // namespace

OwnMeter own_meter(const std::string& name_or_serial) {
  const auto meters = load_own_meters(own_meters_file());
  for (const OwnMeter& meter : meters)
    if (meter.name == name_or_serial) return meter;
  for (const OwnMeter& meter : meters)
    if (meter.serial == name_or_serial && !name_or_serial.empty()) return meter;
  std::vector<std::string> names;
  for (const OwnMeter& meter : meters) names.push_back(meter.name);
  std::string next = suggestion(name_or_serial, names);
  if (next.empty()) next = "enter it with: switchwright meters own add";
  throw Error(ErrorKind::usage, "no meter of the ledger is called \"" + terminal_safe(name_or_serial) + "\"",
              own_meters_file().string(), next);
}

std::optional<OwnMeter> own_meter_by_serial(const std::string& serial, const std::string& definition) {
  if (serial.empty()) return std::nullopt;
  for (const OwnMeter& meter : load_own_meters(own_meters_file()))
    if (meter.serial == serial && definition_id(meter.definition) == definition) return meter;
  return std::nullopt;
}

std::optional<OwnMeter> ask_for_own_meter(Choices& choices, const std::string& definition) {
  std::vector<std::string> names;
  for (const OwnMeter& meter : load_own_meters(own_meters_file()))
    if (definition_id(meter.definition) == definition) names.push_back(meter.name);
  if (names.empty()) return std::nullopt;
  const std::string name = choices.text(
      "own", "Which of the shop's own meters: " + terminal_safe(joined_with_and(names)) + " (- for none of them)", "");
  if (name.empty() || name == "-") return std::nullopt;
  return own_meter(name);
}

int run(const MetersOwnOptions& options) {
  const Wall now = SystemClock{}.now().wall;
  if (options.action == MetersOwnOptions::Action::show) {
    const OwnMeter meter = own_meter(options.name);
    options.json ? put_line(json_line(meter, now)) : show(meter, now);
    return 0;
  }
  const auto meters = load_own_meters(own_meters_file());
  if (options.action == MetersOwnOptions::Action::add) {
    add(options, meters, now);
    return 0;
  }
  if (options.action == MetersOwnOptions::Action::remove) {
    remove(options.name, meters);
    return 0;
  }
  if (!options.json) {
    list(meters, now);
    return 0;
  }
  for (const OwnMeter& meter : meters) put_line(json_line(meter, now));
  return 0;
}

}  // namespace switchwright::cli
