// The guided millivolt drop: a known direct current through one closed contact after another, the meter
// across it.
#include "switchwright/bench/drop.hpp"

#include <fmt/format.h>

#include "cli/choose/choices.hpp"
#include "cli/choose/claim.hpp"
#include "cli/choose/places.hpp"
#include "cli/guided_run.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/verdict_exit.hpp"
#include "cli/view/plain_views.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

DropTask task_from(const DropOptions& options, const Profile& profile) {
  if (options.current.empty())
    throw Error(ErrorKind::usage, "the current is missing", "--current",
                "write it like 1A@1% (amperes and their uncertainty)");
  DropTask task{parse_current(options.current), drop_position(profile, options.position), options.reversed};
  if (task.current.amps > profile.rating.current_a)
    throw Error(
        ErrorKind::usage,
        fmt::format("{:g} A is more than the part's rating of {:g} A", task.current.amps, profile.rating.current_a),
        "--current", "use less");
  return task;
}

DropTask task_of(const Record& record) {
  if (const auto* task = last_of<DropTask>(record.results)) return *task;
  throw Error(ErrorKind::store, "record " + record.header.id + " does not say what was to be measured", {},
              "begin anew");
}

void require_dc_volts(const MeterDefinition& meter) {
  if (!meter.finest(Quantity::voltage_dc))
    throw Error(ErrorKind::usage, "the definition " + meter.id + " has no accuracy for DC volts", "--meter",
                "add its DC volts rows, or use another meter");
}

void opening(const DropTask& task, const Profile& profile, const MeterDefinition& meter) {
  put_line(fmt::format("Millivolt drop of {} at {}, {:g} A +/- {:g} A, meter {}", profile.id, task.position,
                       task.current.amps, task.current.U_amps, meter.id));
  put_line(
      "  Current through the clips of the supply, the meter's probes on the tabs inside them: so no lead is "
      "in the reading.");
}

int conclude(const GuidedEnd& end, bool json) {
  if (!json) say("record " + end.record_id);
  const std::string go_on = "switchwright drop --resume " + end.record_id;
  if (end.verdict) return exit_code(end.verdict->outcome);
  if (end.stopped_kind == "operator")
    throw Error(ErrorKind::interrupted, "stopped; what was measured is kept", "", "go on with: " + go_on);
  throw Error(ErrorKind::meter, end.stopped_text, "", "what was measured is kept; go on with: " + go_on);
}

}  // namespace

int run(const DropOptions& options) {
  require_de_energised(options.acknowledge, options.hands,
                       "it is disconnected and the supply is a current-limited low-voltage one");
  Store store{store_place(options.store)};
  std::optional<Record> earlier;
  if (!options.resume.empty()) {
    earlier = unfinished_record(store, options.resume, RecordKind::drop);
    if (earlier->verdict)
      throw Error(ErrorKind::usage, "record " + earlier->header.id + " is finished", "--resume",
                  "see it with: switchwright report " + earlier->header.id);
  }
  Choices choices;
  const Profile profile = earlier ? profile_to_go_on_with(*earlier, options.profile) : choices.profile(options.profile);
  const MeterDefinition meter = earlier ? meter_to_go_on_with(*earlier, options.meter) : choices.meter(options.meter);
  if (earlier) {
    require_as_begun(earlier->header, "--part", options.part, earlier->header.part);
    require_as_begun(earlier->header, "--serial", options.serial, earlier->header.serial);
  }
  require_dc_volts(meter);
  const DropTask task = earlier ? task_of(*earlier) : task_from(options, profile);
  const std::string port =
      choices.port(options.port.empty() && earlier && !earlier->header.simulated ? earlier->header.port : options.port);

  SessionSettings settings;
  settings.drop = task;
  settings.settle.for_s = options.settle_s;
  settings.patience_s = options.patience_s;
  settings.get_ready_s = 2.0;  // the supply has to be switched on
  if (!options.acknowledge.empty()) settings.acknowledged_by = named_operator(options.operator_name);
  RecordHeader header = earlier ? earlier->header : header_for(RecordKind::drop, profile, meter, port, options.hands);
  if (!earlier) {
    header.claim = chosen_claim(options.claim);
    header.operator_name = options.hands == "person"
                               ? named_operator(choices.text("operator", "Operator", options.operator_name))
                               : options.operator_name;
    if (!options.require.empty()) header.require = parse_scope_parts(options.require);
    header.part = options.part;
    header.serial = options.serial;
  }
  const bool screen = !options.json && options.hands == "person" && interactive();
  if (!options.json && !screen) opening(task, profile, meter);
  const GuidedEnd end = run_guided(
      store, {profile, meter, port, options.hands, header, result_of(task), settings, earlier,
              [&](QualifySession& session) {
                return options.json ? make_json_view() : screen ? make_person_view(session) : make_drop_lines();
              },
              screen});
  if (end.verdict && !options.json) {
    if (!screen) put_line("\n" + end.verdict->headline);
    for (const Finding& finding :
         end.verdict->findings)  // on a screen; the others are told above, and each as it was read
      if (screen && finding.outcome == Outcome::pass) put_line("  " + finding.sentence);
  }
  return conclude(end, options.json);
}

}  // namespace switchwright::cli
