// What each command was asked to do: one plain struct per command, filled from the one option table in options.cpp.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace switchwright::cli {

struct PortsOptions {
  bool json = false;
};
struct MetersOptions {
  std::string id;
  bool json = false;
};
struct ReadOptions {
  std::string meter;
  std::string port;
  std::string quantity;
  std::string capture;
  std::optional<long> count;
  std::optional<double> for_s;
  bool fast = false;
  bool json = false;
  bool csv = false;
};
struct ProfilesOptions {
  std::string id;
  bool powered = false;
  bool json = false;
};
struct QualifyOptions {
  std::string profile;
  std::string meter;
  std::string port;
  std::string part;
  std::string serial;
  std::string operator_name;
  std::string meter_serial;
  std::string meter_calibrated;
  std::string hands = "person";
  std::vector<std::string> acknowledge;
  std::string powered;  ///< "": not; "after": when the part has passed without power; "only"
  std::string inspected;
  std::string rule = "guarded";
  std::string store;
  std::string resume;  ///< record id, or "latest"
  std::string report;  ///< file to write at the end
  double settle_s = 0.6;
  double patience_s = 30.0;
  bool json = false;
};
struct RecordsOptions {
  std::string id;
  std::string store;
  std::string restore;
  bool check = false;
  bool json = false;
};
struct ReportOptions {
  std::string id;
  std::string format;
  std::string output;
  std::string store;
};
struct SimulateOptions {
  std::string profile;
  std::string meter;
  std::vector<std::string> faults;
  std::string link = "pty";
  std::optional<double> rate_hz;
  unsigned long seed = 1;
  // Under power.
  std::optional<double> supply_v;
  bool powered_on = false;
  std::string position;
  std::vector<std::string> meters_at;  ///< NAME=METER@PAIR
  std::optional<double> ambient_c;
  double ambient_compensation = 0.9;
  std::optional<double> time_constant_s;
  std::optional<long> welds_at;
  std::optional<double> drift_pct;
  std::optional<double> scatter_pct;
  std::optional<int> bounces;
};

using Command = std::variant<PortsOptions, MetersOptions, ReadOptions, ProfilesOptions, QualifyOptions, RecordsOptions,
                             ReportOptions, SimulateOptions>;

struct Invocation {
  Command command;
  std::string log_level = "warn";
};

/// Parses the command line. Prints help or version itself and returns nothing then, with the exit code in `exit_code`
/// (0 for help, 2 for a mistake, which is explained on stderr).
std::optional<Invocation> parse(int argc, const char* const* argv, int& exit_code);

/// "90s", "15m", "2h", "1.5h"; seconds. @throws Error(usage).
double parse_time(const std::string& text);

// One file per command.
int run(const PortsOptions& options);
int run(const MetersOptions& options);
int run(const ReadOptions& options);
int run(const ProfilesOptions& options);
int run(const QualifyOptions& options);
int run(const RecordsOptions& options);
int run(const ReportOptions& options);
int run(const SimulateOptions& options);

}  // namespace switchwright::cli
