#include "switchwright/meter/own.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>

#include "meter/correction_toml.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"

namespace switchwright {

namespace {

using toml_reader::Need;
using toml_reader::Section;

std::string day_of(Wall when) { return iso8601(when).substr(0, 10); }

std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      out += std::string{'\\', c};
    else if (byte < 0x20 || byte == 0x7F)
      out += fmt::format("\\u{:04X}", byte);
    else
      out += c;
  }
  return out + "\"";
}

class LedgerReader {
 public:
  LedgerReader(const std::string& text, const std::filesystem::path& path)
      : mistakes_(path), root_(toml_reader::parse(text, mistakes_)), file_(root_, "the ledger", mistakes_) {}

  std::vector<OwnMeter> read() {
    for (Section& table : file_.sections("meter", Need::optional)) meter(table);
    file_.finish();
    mistakes_.throw_if_any();
    return std::move(meters_);
  }

 private:
  void meter(Section& table) {
    OwnMeter own;
    own.name = table.text("name", Need::required).value_or("");
    own.definition = table.text("definition", Need::required).value_or("");
    own.serial = table.text("serial", Need::optional).value_or("");
    own.calibrated = date(table, "calibrated");
    own.due = date(table, "due");
    own.certificate = table.text("certificate", Need::optional).value_or("");
    if (!own.calibrated.empty() && !own.due.empty() && own.due < own.calibrated)
      mistakes_.add(table.at("due"), fmt::format("expected a due date after the calibration of {}, saw {}",
                                                 own.calibrated, toml_reader::in_quotes(own.due)));
    for (Section& row : table.sections("correction", Need::optional)) own.corrections.push_back(read_correction(row));
    table.finish();
    const auto same = [&](const OwnMeter& other) { return other.name == own.name; };
    if (!own.name.empty() && std::any_of(meters_.begin(), meters_.end(), same))
      mistakes_.add(table.at("name"),
                    fmt::format("expected each name once, saw {} again", toml_reader::in_quotes(own.name)));
    meters_.push_back(std::move(own));
  }

  std::string date(Section& table, std::string_view key) {
    const auto day = table.word(key, Need::optional);
    if (day && !is_calendar_date(day->text))
      mistakes_.add(day->at, fmt::format("expected a date like \"2026-01-31\" for \"{}\" in {}, saw {}", key,
                                         table.name(), toml_reader::in_quotes(day->text)));
    return day ? day->text : "";
  }

  toml_reader::Mistakes mistakes_;
  toml::table root_;
  Section file_;
  std::vector<OwnMeter> meters_;
};

}  // namespace

bool is_date(const std::string& text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  for (const std::size_t i : {0, 1, 2, 3, 5, 6, 8, 9})
    if (text[i] < '0' || text[i] > '9') return false;
  const int year = std::stoi(text.substr(0, 4));
  const std::chrono::year_month_day day{std::chrono::year{year},
                                        std::chrono::month{static_cast<unsigned>(std::stoi(text.substr(5, 2)))},
                                        std::chrono::day{static_cast<unsigned>(std::stoi(text.substr(8, 2)))}};
  return year >= 1900 && day.ok();
}

std::string to_string(CalibrationState state) {
  return state == CalibrationState::valid ? "valid" : state == CalibrationState::overdue ? "overdue" : "unknown";
}

CalibrationState calibration_state(const OwnMeter& meter, Wall when) {
  if (meter.calibrated.empty() || meter.due.empty()) return CalibrationState::unknown;
  return day_of(when) > meter.due ? CalibrationState::overdue : CalibrationState::valid;
}

std::string calibration_words(const OwnMeter& meter, Wall when) {
  if (meter.calibrated.empty()) return {};
  std::string words = meter.calibrated;
  if (!meter.certificate.empty()) words += ", certificate " + meter.certificate;
  words += meter.due.empty() ? ", no due date kept" : ", due " + meter.due;
  if (calibration_state(meter, when) == CalibrationState::overdue) words += ": OVERDUE";
  return words;
}

std::vector<std::string> calibration_remarks(const OwnMeter& meter, Wall when) {
  const std::string which = "meter" + (meter.name.empty() ? "" : " " + meter.name) +
                            (meter.serial.empty() ? "" : ", serial number " + meter.serial);
  std::vector<std::string> remarks;
  switch (calibration_state(meter, when)) {
    case CalibrationState::valid: break;
    case CalibrationState::overdue:
      remarks.push_back(
          fmt::format("Calibration overdue: the {} was due on {} (last calibrated {}). Its accuracy figures no "
                      "longer stand on a valid calibration.",
                      which, meter.due, meter.calibrated));
      break;
    case CalibrationState::unknown:
      remarks.push_back(
          meter.calibrated.empty()
              ? fmt::format("Calibration unknown: nothing is kept about a calibration of the {}; its readings "
                            "are traceable to nothing.",
                            which)
              : fmt::format("Calibration unknown: the {} was calibrated on {}, but no due date is kept.", which,
                            meter.calibrated));
  }
  if (meter.corrections.empty()) return remarks;
  std::vector<std::string> rows;
  for (const Correction& row : meter.corrections) rows.push_back(correction_words(row));
  remarks.push_back(
      fmt::format("Corrections{} are added to the readings before judging, and their uncertainty counts: {}.",
                  meter.certificate.empty() ? "" : " of certificate " + meter.certificate,
                  fmt::format("{}", fmt::join(rows, "; "))));
  return remarks;
}

namespace {

std::string ledger_text(const std::vector<OwnMeter>& meters) {
  std::string text =
      "# The shop's own meters and their calibration. Written by `switchwright meters own add`; safe to "
      "edit.\n";
  const auto line = [&](const char* key, const std::string& value) {
    if (!value.empty()) text += fmt::format("{} = {}\n", key, quoted(value));
  };
  for (const OwnMeter& own : meters) {
    text += "\n[[meter]]\n";
    line("name", own.name);
    line("definition", own.definition);
    line("serial", own.serial);
    line("calibrated", own.calibrated);
    line("due", own.due);
    line("certificate", own.certificate);
    for (const Correction& row : own.corrections) text += correction_toml(row, "[[meter.correction]]");
  }
  return text;
}

}  // namespace

std::vector<OwnMeter> load_own_meters(const std::filesystem::path& file) {
  std::error_code ignored;
  if (!std::filesystem::exists(file, ignored)) return {};
  return LedgerReader(toml_reader::read_file(file, "the ledger of the shop's own meters"), file).read();
}

void check_own_meters(const std::vector<OwnMeter>& meters, const std::filesystem::path& file) {
  (void)LedgerReader(ledger_text(meters), file).read();
}

void save_own_meters(const std::filesystem::path& file, const std::vector<OwnMeter>& meters) {
  const std::string text = ledger_text(meters);
  std::error_code error;
  if (!file.parent_path().empty()) std::filesystem::create_directories(file.parent_path(), error);
  try {
    write_file_durably(file.string(), text);
  } catch (const Error& failed) {
    throw Error(ErrorKind::store, "the ledger of the shop's own meters cannot be written: " + failed.what_happened(),
                file.string(), "check the directory and the room on the disk");
  }
}

namespace {

/// The units that a number of this quantity may carry.
Amount amount_of(Quantity quantity) {
  const std::string_view unit = unit_of(quantity);
  return unit == "ohm"    ? Amount::ohms
         : unit == "V"    ? Amount::volts
         : unit == "A"    ? Amount::amperes
         : unit == "Hz"   ? Amount::hertz
         : unit == "degC" ? Amount::celsius
                          : Amount::number;
}

}  // namespace

Correction parse_correction(const std::string& text) {
  const auto wrong = [&](const std::string& what) {
    return Error(ErrorKind::usage, what, "\"" + terminal_safe(text) + "\"",
                 "write it like: resistance 0..400 +0.05 U 0.04");
  };
  Correction row;
  const auto number_of = [&](const std::string& word, Amount amount) {
    return read_amount(word, amount, {-1e12, 1e12}, "\"" + terminal_safe(text) + "\"");
  };
  std::istringstream words(text);
  std::string quantity, range, add, U_word, U, k_word, k, more;
  words >> quantity >> range >> add >> U_word >> U >> k_word >> k >> more;
  const auto known = quantity_named(quantity);
  if (!known)
    throw wrong("\"" + terminal_safe(quantity) + "\" is no quantity; " + suggestion(quantity, quantity_names()));
  row.quantity = *known;
  const auto dots = range.find("..");
  if (dots == std::string::npos) throw wrong("the range is missing");
  const Amount amount = amount_of(row.quantity);
  row.from = number_of(range.substr(0, dots), amount);
  row.to = number_of(range.substr(dots + 2), amount);
  row.add = number_of(add, amount);
  if (U_word != "U") throw wrong("the uncertainty of the correction is missing");
  row.U = number_of(U, amount);
  if (!k_word.empty()) {
    if (k_word != "k" || !more.empty()) throw wrong("there is more than a correction here");
    row.k = number_of(k, Amount::number);
  }
  if (row.from < 0.0 || row.to <= row.from || row.U < 0.0 || row.k < 1.0 || row.k > 10.0)
    throw wrong("the range must rise, U must not be negative, and k lies between 1 and 10");
  return row;
}

std::string correction_words(const Correction& c) {
  const auto unit = unit_of(c.quantity);
  return fmt::format("{} {:g}..{:g} {}: {:+g} {} (U {:g} {}, k = {:g})", name_of(c.quantity), c.from, c.to, unit, c.add,
                     unit, c.U, unit, c.k);
}

MeterDefinition with_corrections(const MeterDefinition& definition, const OwnMeter& meter) {
  if (meter.corrections.empty()) return definition;
  std::string text = definition.source_text + "\n# From the calibration ledger, meter " + quoted(meter.name) + ".\n";
  for (const Correction& row : meter.corrections) text += "\n" + correction_toml(row, "[[correction]]");
  return parse_meter_definition(text, definition.path);
}

}  // namespace switchwright
