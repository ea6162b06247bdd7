// What the commands below "lot" were asked to do.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace switchwright::cli {

struct LotOpenOptions {
  std::string part;
  std::string supplier;
  std::string order;
  std::string lot_number;
  std::string profile;
  std::string meter;
  std::string operator_name;
  std::string condition;  ///< "new", "pulled"
  std::string level = "II";
  std::string mode;  ///< empty: as the supplier's history proposes
  std::string drawing = "random";
  std::optional<int> size;
  std::optional<unsigned long> seed;
  std::optional<double> critical_aql;
  std::optional<long> reduced_limit;  ///< MIL-STD-105E Table VIII, as agreed
  std::string resubmits;              ///< the lot that was not accepted: record or lot number
  std::string rework;                 ///< what was done to its units since
  std::string corrective_action;      ///< what the supplier did after acceptance was discontinued
  double major_aql = 1.0;
  double minor_aql = 2.5;
  int full_every = 10;
  std::vector<std::string> agreed;      ///< CLASS=SIZE:ACCEPT, in place of the table's plan
  std::vector<std::string> references;  ///< NAME=OHM or NAME=OHM+-U
  std::vector<std::string> versions;    ///< profiles
  std::string store;
  bool simulated = false;
  bool json = false;
};

struct LotRunOptions {
  std::string lot;
  bool one = false;  ///< "lot next"
  std::string port;
  std::string hands = "person";
  std::string operator_name;
  std::string own;
  std::string meter_serial;
  std::string range;
  std::optional<double> ambient_c;
  std::vector<std::string> acknowledge;
  std::string inspected;
  std::string serial;               ///< "lot next"
  std::vector<std::string> stated;  ///< "lot next", "lot retest": what other instruments showed of the unit
  std::string serials;              ///< file, one a line; "-": standard input
  std::string repeated;             ///< "same", "other": what a serial number that was had before means
  std::string plan;                 ///< empty: short, and full as the lot says
  std::optional<int> retest;        ///< place: "lot retest"
  std::string reason;
  double break_s = 1800.0;
  double check_every_s = 8 * 3600.0;
  double settle_s = 0.6;
  double patience_s = 30.0;
  bool finish = false;
  std::string store;
  bool json = false;
};

struct LotStatusOptions {
  std::string lot;  ///< empty: all of them
  std::string store;
  bool json = false;
};

/// A unit that cannot be had any more, or another one in its place.
struct LotUnitOptions {
  enum class Action { lost, replaced } action = Action::lost;
  std::string lot;
  std::string unit;  ///< number in the carton, or serial number
  std::optional<int> by;
  std::string reason;
  std::string operator_name;
  std::string store;
  bool json = false;
};

struct LotCloseOptions {
  std::string lot;
  std::string operator_name;
  std::string store;
  bool json = false;
};

struct LotReportOptions {
  std::string lot;
  std::string format;
  std::string output;
  std::string store;
};

struct LotHistoryOptions {
  std::string part;
  std::string supplier;
  std::string picture;
  std::optional<long> reduced_limit;
  std::string store;
  bool json = false;
};

}  // namespace switchwright::cli
