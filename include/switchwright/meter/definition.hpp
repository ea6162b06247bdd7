// A meter definition says how a meter talks and how well it measures. It is a TOML file in meters/; adding a
// meter that speaks a known frame needs no C++.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/core/quantity.hpp"

namespace switchwright {

enum class Parity { none, odd, even };

struct LinkSettings {
  int baud = 9600;
  int data_bits = 8;
  Parity parity = Parity::none;
  int stop_bits = 1;
  std::optional<bool> dtr;  ///< raised or dropped after every open; nothing: left as the system sets it
  std::optional<bool> rts;
  double silent_after_s = 2.0;  ///< no valid frame for this long means the meter is silent
};

/// What the decoder needs to know about this chip or dialect, as data: options are single values, tables map
/// a code to a meaning. Which names exist is up to the decoder kind; the loader checks them.
struct DecoderSettings {
  std::string kind;
  std::map<std::string, std::string> options;
  std::map<std::string, std::map<std::string, std::string>> tables;
};

/// For meters that answer only when asked.
struct PollSettings {
  std::string request;     ///< bytes to send, with their terminator
  double every_s = 0.5;    ///< shortest time between two requests
  double timeout_s = 3.0;  ///< no answer for this long: the request is lost
};

/// How the tool selects a function itself. Commands and request are each ended with the link's line end; a
/// {range} in them stands for `range` in the file and is filled in by the loader.
struct FunctionCommands {
  Quantity quantity = Quantity::resistance;
  /// Sent in order, then readings are asked for with PollSettings::request. With a `request` as well: what is
  /// tried when the meter does not know the request.
  std::vector<std::string> send = {};
  /// One query that selects the function and gives a reading (SCPI: MEAS:RES?); asked again for every
  /// reading.
  std::string request = {};
  std::optional<double> range = {};  ///< full scale that the commands fix, SI unit; absent: the meter picks its range
  /// What the meter answers to function_queries when it stands on this function; empty: its name by SCPI-1999.
  std::vector<std::string> is = {};
};

/// What a calibration certificate says to add to a reading, for one quantity and part of its range.
struct Correction {
  Quantity quantity = Quantity::resistance;
  double from = 0.0;  ///< |reading| at least this, SI unit
  double to = 0.0;    ///< and less than this
  double add = 0.0;   ///< added to the reading, SI unit
  double U = 0.0;     ///< expanded uncertainty of `add`
  double k = 2.0;     ///< its coverage factor
};

/// +/-(percent of reading + digits x resolution) inside one range.
struct AccuracyRow {
  Quantity quantity = Quantity::resistance;
  double full_scale = 0.0;          ///< SI unit
  double resolution = 0.0;          ///< one digit, SI unit
  double percent_of_reading = 0.0;  ///< 0.8 means 0.8 %
  double digits = 0.0;
};

/// Between which temperatures the accuracy holds, and what is added outside: the usual way of data sheets, a share of the
/// specified accuracy per kelvin.
struct TemperatureRange {
  double from_c = 18.0;
  double to_c = 28.0;
  double share_per_kelvin = 0.1;  ///< common practice, no source, where the definition says nothing
  bool given = false;             ///< the definition says it
  /// By what the limits of error grow at this temperature; at least 1.
  double factor_at(double ambient_c) const;
};

struct MeterDefinition {
  int schema = 1;
  std::string id;  ///< file name without .toml
  std::string title;
  std::string provenance;  ///< where the frame table and the accuracy figures come from
  LinkSettings link;
  DecoderSettings decoder;
  std::optional<PollSettings> poll;
  std::vector<std::string> start_commands;  ///< sent once after opening
  std::vector<std::string> stop_commands;   ///< sent once before closing
  std::vector<FunctionCommands> functions;
  /// SCPI: queries for the function that the meter stands on; the first one that is answered is used. A number
  /// without a unit is believed only when such an answer, or an answer to a function's own request, shows what
  /// it is a number of.
  std::vector<std::string> function_queries = {"FUNC?", "CONF?"};
  std::vector<AccuracyRow> accuracy;
  TemperatureRange temperature;
  std::vector<Correction> corrections;  ///< of this one meter, from its certificate; mostly none
  /// Input resistance on AC volts; absent: not stated, and what floats is judged with the usual ones (profile/powered.hpp).
  std::optional<double> voltage_input_ohm;
  double update_rate_hz = 2.5;  ///< readings per second a real one gives; the simulator keeps it
  std::filesystem::path path;
  std::string source_text;  ///< the TOML file as read; kept in every record

  /// Its frames say whether it picks its range; the absence of the mark then means a range that was set by hand.
  bool shows_autorange() const;
  /// The tool can select this quantity itself (otherwise a person turns the dial).
  bool selects(Quantity quantity) const;
  /// The accuracy row of the range a reading was taken in: same quantity (continuity falls back to
  /// resistance), the row whose resolution is the reading's; failing that the smallest range that holds
  /// |value|; nullptr when the definition has no row for the quantity.
  const AccuracyRow* accuracy_for(Quantity quantity, double value, double resolution) const;
  /// The correction for a reading (continuity falls back to resistance); nullptr when there is none.
  const Correction* correction_for(Quantity quantity, double value) const;
  /// How the tool selects a quantity; nullptr when it cannot.
  const FunctionCommands* function_for(Quantity quantity) const;
  /// The finest row of a quantity, for saying before the work what can be decided; nullptr when there is
  /// none.
  const AccuracyRow* finest(Quantity quantity) const;
  /// The largest full scale of a quantity; nothing when there is no row.
  std::optional<double> top_of_range(Quantity quantity) const;
};

/// The definition with its limits of error as they are at this ambient temperature.
MeterDefinition at_ambient(MeterDefinition definition, double ambient_c);

/// Where definitions and profiles are looked for, first hit wins.
struct SearchPath {
  std::vector<std::filesystem::path> directories;
};

/// Loads ID (a name on the search path, or a path to a .toml file).
/// @throws Error(usage) with every mistake of the file at once, one "path:line:column: expected X, saw Y" per
/// line, or for an unknown id with near names.
MeterDefinition load_meter_definition(const std::string& id, const SearchPath& where);
/// The same from a text at hand (a record keeps the text of its definition); `path` names it in messages and
/// gives the id. @throws Error(usage) as above.
MeterDefinition parse_meter_definition(std::string text, const std::filesystem::path& path);
/// All ids on the search path, sorted, each once.
std::vector<std::string> list_meter_definitions(const SearchPath& where);

}  // namespace switchwright
