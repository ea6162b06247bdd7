// What each command was asked to do: one plain struct per command, filled from the one option table in options.cpp.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "cli/options/lot_options.hpp"
#include "cli/options/lot_plan_options.hpp"

namespace switchwright::cli {

/// What a claim names beside the part; each may be empty.
struct ClaimOptions {
  std::string order, appliance, appliance_serial, date_code, supplier, lot, remark;
  bool ask = false;  ///< in a terminal, for all of it
};
struct PortsOptions {
  bool json = false;
};
struct MetersOptions {
  std::string id;
  bool json = false;
};
struct MetersFindOptions {
  std::vector<std::string> ports;
  double listen_s = 2.5;
  bool ask = false;
  bool json = false;
};
struct MetersCheckOptions {
  std::vector<std::string> files;
};
struct MetersOwnOptions {
  enum class Action { list, show, add, remove } action = Action::list;
  std::string name;
  std::string meter;
  std::string serial;
  std::string calibrated;
  std::string due;
  std::string certificate;
  std::vector<std::string> corrections;
  bool replace = false;
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
  bool order = false;
  bool coverage = false;
  bool shortest = false;
  std::string hands = "person";
  std::string meter = "lcd-segment-14";
  std::string picture;   ///< file
  std::string position;  ///< of the picture
  std::string check;     ///< file
  std::string match;     ///< record
  std::string store;
};
struct QualifyOptions {
  ClaimOptions claim;
  std::string profile;
  std::string meter;
  std::string port;
  std::string part;
  std::string serial;
  std::string operator_name;
  std::string own;  ///< name of one of the shop's own meters
  std::string meter_serial;
  std::string meter_calibrated;
  std::string hands = "person";
  std::vector<std::string> acknowledge;
  std::string cold;  ///< a record's id; empty: of this sitting
  bool live_moves = false;
  std::vector<std::string> wired;  ///< 2800W@240, 20.6ohm, H1-H2=...
  std::string powered;             ///< "": not; "after": when the part has passed without power; "only"
  std::string inspected;
  std::string range;                ///< of a meter that does not show it, as stated: "auto", "40Mohm"
  std::optional<double> ambient_c;  ///< air around the meter, as stated
  std::string require;              ///< parts of the scope, joined by commas
  std::vector<std::string> stated;  ///< as judge/stated.hpp reads them
  std::string rule = "guarded";
  std::string plan;  ///< full, short, adaptive; empty: full, or that of the record that is resumed
  std::string store;
  std::string resume;  ///< record id, or "latest"
  std::string report;  ///< file to write at the end
  double settle_s = 0.6;
  double patience_s = 30.0;
  bool json = false;
};
/// Which records are meant; empty: any. Texts may stand anywhere in what is kept, whatever their case.
struct RecordFilter {
  std::string part, serial, verdict, from, to, operator_name, fault, lot, order;
};
struct RecordsOptions {
  std::string id;
  std::string store;
  std::string restore;
  RecordFilter filter;
  bool all = false;
  bool check = false;
  bool json = false;
};
struct PushOptions {
  std::string id;
  std::string to;
  std::string store;
  bool remember = false;
  bool forget = false;
  bool sql = false;
  bool json = false;
};
struct RecordsExportOptions {
  RecordFilter filter;
  std::string format;  ///< "csv" or "jsonl"; empty: by the file's ending, else csv
  std::string output;
  std::string store;
};
struct RecordsTrendOptions {
  RecordFilter filter;
  std::string picture;  ///< .svg
  std::string store;
  bool simulated = false;
  bool json = false;
};
/// Something added to a finished record.
struct RecordsAddOptions {
  std::string id;
  std::vector<std::string> files;  ///< attach
  std::string note;                ///< note
  std::string operator_name;
  std::string store;
};
struct ReportOptions {
  std::string id;
  std::string other;  ///< the record to compare with
  std::string kind;   ///< "", "qualification", "trace", "claim", "comparison"
  std::string format;
  std::string paper = "a4";
  std::string output;
  std::string store;
};
struct LabelOptions {
  std::string id;
  std::string output;
  std::string store;
};
struct KeysOptions {
  std::string file;
  std::string passphrase_file;
  bool ask_passphrase = false;
};
struct BagOptions {
  std::string id;
  std::string output;  ///< folder
  std::string key;     ///< PEM file of the private key to sign with
  std::string check;   ///< folder
  std::string by;      ///< PEM file of the public key that must have signed
  std::string paper = "a4";
  bool without_pdf = false;
  bool without_attachments = false;
  std::string timestamp_request;   ///< file to write
  std::string timestamp_response;  ///< file to put into the bag
  std::string authority;           ///< PEM file of who must have stamped the time
  std::string store;
  bool json = false;
};
struct SimulateOptions {
  std::string profile;
  std::string meter;
  std::vector<std::string> faults;
  std::vector<std::string> wired;  ///< as for qualify
  std::string link = "pty";
  std::optional<double> rate_hz;
  unsigned long seed = 1;
  // Leads, probes, and what should not be there.
  std::optional<double> leads_ohm;
  double shorted_ohm = 0.0;
  double offset_ohm = 0.0;
  std::vector<std::string> volts;     ///< PAIR=VOLTSdc, PAIR=VOLTSac
  std::vector<std::string> fingers;   ///< POSITION=OHM
  std::vector<std::string> closings;  ///< CONTACT=OHM,OHM,...
  // A carton.
  int lot = 0;
  std::vector<std::string> lot_faults;    ///< FAULT=SHARE
  std::vector<std::string> lot_versions;  ///< PROFILE=SHARE
  double lot_spread_pct = 0.0;
  std::vector<std::string> same_labels;  ///< UNIT=UNIT
  std::vector<std::string> references;   ///< NAME=OHM
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
  double sway_pct = 0.0;
  double sway_period_s = 600.0;
  double ripple_pct = 0.0;
  std::string supply_between;  ///< "A-B"; empty: as the profile says
  std::optional<std::string> earth;
  std::optional<double> supply_lost_at_s;
  std::optional<double> supply_lost_for_s;
  std::string bond;  ///< ohms, or "open"
  std::optional<double> load_ohm;
  std::optional<double> averaging_s;
  // The current supply of the millivolt drop.
  bool current_dead = false;
  bool current_stuck_on = false;
  double current_share_pct = 100.0;
  std::string current_display = "given";
  double current_open_v = 12.0;
  double thermal_uv = 0.0;
  double thermal_drift_uv_per_s = 0.0;
};
struct AnalyzeOptions {
  std::string require;
  std::string file;  ///< "-": standard input
  std::string profile;
  std::string position;
  std::string rule = "guarded";
  std::string picture;
  std::vector<std::string> roles;  ///< COLUMN=load, ...
  std::optional<double> update_s;  ///< of the meter's display
  std::optional<double> time_unit_s;
  std::optional<double> supply_v;
  std::optional<double> load_ohm;
  bool json = false;
};
struct TraceOptions {
  ClaimOptions claim;
  std::string profile;
  std::string position;
  std::vector<std::string> channels;      ///< NAME=METER@PORT
  std::vector<std::string> roles;         ///< NAME=load, ...
  std::vector<std::string> own;           ///< NAME=METER of the calibration ledger
  std::vector<std::string> meter_serial;  ///< NAME=TEXT
  std::string part;
  std::string serial;
  std::string operator_name;
  std::string supply;   ///< volts
  std::string load;     ///< "2800W@240" or "21ohm"
  std::string ambient;  ///< degrees Celsius
  std::string setting;  ///< words about how the knob stands
  std::string require;
  std::vector<std::string> acknowledge;
  std::string rule = "guarded";
  std::string store;
  std::string report;
  std::optional<double> for_s;
  std::optional<unsigned long> cycles;
  bool simulated = false;
  bool json = false;
};
struct FitOptions {
  std::string profile;
  std::string load;
  std::string record;
  std::string store;
  double supply_v = 0.0;
  std::optional<int> awg;
  std::optional<double> tab_inch;
  bool json = false;
};
struct PracticeOptions {
  std::string profile;
  std::string meter = "lcd-segment-14";
  std::string level = "easy";
  std::string learner;
  std::string store;
  std::optional<unsigned long> seed;
  bool led = false;
};
struct LearnOptions {
  std::string meter;
  std::string port;
  std::string hands = "person";
  std::vector<std::string> terminals;
  std::vector<std::string> metal;
  std::vector<std::string> positions;
  std::string title;
  std::string knob = "knob";
  std::string operator_name;
  std::string output;
  std::string store;
  std::string resume;  ///< id, or "latest"
  std::vector<std::string> acknowledge;
  std::optional<double> voltage_v;
  std::optional<double> current_a;
  double settle_s = 0.6;
  double patience_s = 30.0;
};
struct DropOptions {
  ClaimOptions claim;
  std::string require;
  std::string profile;
  std::string meter;
  std::string port;
  std::string current;
  std::string position;
  std::string hands = "person";
  std::string part;
  std::string serial;
  std::string operator_name;
  std::string store;
  std::string resume;  ///< id, or "latest"
  double settle_s = 0.6;
  double patience_s = 30.0;
  std::vector<std::string> acknowledge;
  bool reversed = false;
  bool json = false;
};

struct DoctorOptions {
  std::string store;
  bool json = false;
};

struct ServeOptions {
  std::string listen = "127.0.0.1:8737";
  std::string token_file;
  std::string tls_cert;
  std::string tls_key;
  std::vector<std::string> names;  ///< host names beside the address
  bool demo = false;
  std::string profile;  ///< of the demonstration
  std::string meter = "lcd-segment-14";
  std::optional<double> rate_hz;
  double settle_s = 0.6;
  std::string store;
};

using Command =
    std::variant<PortsOptions, MetersOptions, MetersFindOptions, MetersCheckOptions, MetersOwnOptions, ReadOptions,
                 ProfilesOptions, QualifyOptions, RecordsOptions, RecordsExportOptions, RecordsTrendOptions,
                 RecordsAddOptions, ReportOptions, LabelOptions, KeysOptions, BagOptions, SimulateOptions, FitOptions,
                 PracticeOptions, LearnOptions, DropOptions, AnalyzeOptions, TraceOptions, LotPlanOptions,
                 LotStudyOptions, LotOpenOptions, LotRunOptions, LotStatusOptions, LotUnitOptions, LotCloseOptions,
                 LotReportOptions, LotHistoryOptions, ServeOptions, DoctorOptions, PushOptions>;

struct Invocation {
  Command command;
  std::string log_level = "warn";
};

/// Parses the command line. Prints help or version itself and returns nothing then, with the exit code in `exit_code`
/// (0 for help, 2 for a mistake, which is explained on stderr).
std::optional<Invocation> parse(int argc, const char* const* argv, int& exit_code);

// One file per command.
int run(const PortsOptions& options);
int run(const MetersOptions& options);
int run(const MetersFindOptions& options);
int run(const MetersCheckOptions& options);
int run(const MetersOwnOptions& options);
int run(const ReadOptions& options);
int run(const ProfilesOptions& options);
int run(const QualifyOptions& options);
int run(const RecordsOptions& options);
int run(const RecordsExportOptions& options);
int run(const RecordsTrendOptions& options);
int run(const RecordsAddOptions& options);
int run(const PushOptions& options);
int run(const ReportOptions& options);
int run(const LabelOptions& options);
int run(const KeysOptions& options);
int run(const BagOptions& options);
int run(const SimulateOptions& options);
int run(const AnalyzeOptions& options);
int run(const DoctorOptions& options);
int run(const TraceOptions& options);
int run(const FitOptions& options);
int run(const PracticeOptions& options);
int run(const LearnOptions& options);
int run(const DropOptions& options);
int run(const LotOpenOptions& options);
int run(const LotRunOptions& options);
int run(const LotStatusOptions& options);
int run(const LotUnitOptions& options);
int run(const LotCloseOptions& options);
int run(const LotReportOptions& options);
int run(const LotHistoryOptions& options);
int run(const LotPlanOptions& options);
int run(const LotStudyOptions& options);
int run(const ServeOptions& options);

}  // namespace switchwright::cli
