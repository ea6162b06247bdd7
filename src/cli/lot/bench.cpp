#include "cli/lot/bench.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "cli/choose/choices.hpp"
#include "cli/choose/meter_statements.hpp"
#include "cli/choose/own_meter.hpp"
#include "cli/choose/places.hpp"
#include "cli/output.hpp"
#include "switchwright/bench/stated_range.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::cli {

namespace {

/// Of a lot that runs by itself only what a person must know is told.
class FewLines final : public View {
 public:
  void on(const Event& event, Instant) override {
    if (const auto* note = std::get_if<Note>(&event); note && !is_told_anyway(note->kind))
      put_line("  note: " + terminal_safe(note->text));
    if (const auto* link = std::get_if<LinkChanged>(&event))
      if (link->change.state == LinkState::lost || link->change.state == LinkState::silent)
        put_line("  link: " + terminal_safe(link->change.detail));
    if (const auto* stopped = std::get_if<Stopped>(&event)) put_line("  " + terminal_safe(stopped->text));
  }

 private:
  static bool is_told_anyway(const std::string& kind) {
    return kind == "plan" || kind == "sitting" || kind == "meter-calibration";
  }
};

void choose_own(LotBench& bench) {
  if (!bench.options.own.empty()) {
    bench.own = own_meter(bench.options.own);
    if (definition_id(bench.own->definition) != definition_id(bench.meter.id))
      throw Error(
          ErrorKind::usage,
          bench.own->name + " speaks " + bench.own->definition + ", and the lot is measured with " + bench.meter.id,
          "--own", "name another meter, or open the lot with its definition");
  } else if (!bench.options.meter_serial.empty()) {
    bench.own = own_meter_by_serial(bench.options.meter_serial, bench.meter.id);
  }
  if (bench.own) bench.meter = with_corrections(bench.meter, *bench.own);
  if (bench.options.ambient_c) bench.meter = at_ambient(bench.meter, *bench.options.ambient_c);
}

void remark(LotBench& bench) {
  const LotRunOptions& options = bench.options;
  bench.meter_remarks = meter_statements(options.range, options.ambient_c, bench.meter);
  if (!bench.own && bench.simulated()) return;
  const OwnMeter meter = bench.own ? *bench.own : OwnMeter{"", bench.meter.id, options.meter_serial, "", "", "", {}};
  for (std::string& text : calibration_remarks(meter, SystemClock{}.now().wall))
    bench.meter_remarks.push_back(std::move(text));
}

bool acknowledges(const LotRunOptions& options, const char* what) {
  return std::find(options.acknowledge.begin(), options.acknowledge.end(), what) != options.acknowledge.end();
}

}  // namespace

bool LotBench::attended() const { return options.hands == "person" && interactive() && !options.json; }

LotBench lot_bench(Store& store, const LotRunOptions& options, const Record& lot) {
  LotBench bench{store,           options,       lot.header.id, *lot.lot, lot.header,
                 profile_in(lot), meter_in(lot), std::nullopt,  {},       {}};
  if (bench.simulated() != lot.header.simulated)
    throw Error(ErrorKind::usage,
                lot.header.simulated ? "this lot was opened as a simulated one" : "this lot is of real parts",
                "--hands",
                lot.header.simulated ? "give the simulator's hands: --hands sim:SOCKET"
                                     : "open a lot with --simulated for the simulator");
  if (!are_simulated(options.hands) && options.hands != "person")
    throw Error(ErrorKind::usage, "\"" + options.hands + "\" are no hands for a lot", "--hands",
                "use person or sim:SOCKET");
  Choices choices;
  bench.options.port = choices.port(options.port);
  if (bench.options.operator_name.empty()) {
    if (!interactive()) throw Error(ErrorKind::usage, "who does the work is missing", "", "give it with --operator");
    while (bench.options.operator_name.empty()) bench.options.operator_name = choices.text("operator", "Operator", {});
  }
  if (bench.options.range.empty() && bench.attended()) bench.options.range = ask_for_range(bench.meter);
  if (choices.asked()) choices.remember();
  choose_own(bench);
  remark(bench);
  bench.knowledge = std::make_shared<const Knowledge>(load_knowledge(profile_places()));
  return bench;
}

GuidedWork work_on(const LotBench& bench, const Profile& profile, RecordKind kind) {
  const LotRunOptions& options = bench.options;
  RecordHeader header = header_for(kind, profile, bench.meter, options.port, options.hands);
  header.operator_name = options.operator_name;
  header.part = bench.lot_header.part;
  header.stated_range = options.range;
  header.ambient_c = options.ambient_c;
  header.meter_serial = bench.own ? bench.own->serial : options.meter_serial;
  if (bench.own) header.meter_calibrated = calibration_words(*bench.own, header.started);

  SessionSettings settings;
  settings.settle.for_s = options.settle_s;
  settings.patience_s = options.patience_s;
  settings.cost = load_route_cost("person", profile_places());
  settings.knowledge = bench.knowledge;
  settings.meter_remarks = bench.meter_remarks;
  if (!options.range.empty()) settings.judge.range = read_stated_range(options.range);
  if (!options.inspected.empty()) settings.inspection = options.inspected == "yes";
  for (const char* what : {"no-dc-voltage", "no-ac-voltage"})
    if (acknowledges(options, what)) settings.absence_stated[what] = options.operator_name;

  const bool json = options.json, attended = bench.attended();
  const auto view = [json, attended](QualifySession& session) -> std::unique_ptr<View> {
    if (json) return make_json_view();
    return attended ? make_person_view(session) : std::make_unique<FewLines>();
  };
  return {profile,  bench.meter,  options.port, options.hands, header, WorkResult{},
          settings, std::nullopt, view,         attended,      {}};
}

std::string put_on_bench(const LotBench& bench, int unit) {
  if (bench.options.hands == "person") return {};
  Loop loop;
  const auto hands = make_hands(loop, bench.options.hands);
  std::string label, trouble;
  hands->take_unit(
      unit,
      [&](std::string read) {
        label = std::move(read);
        loop.stop();
      },
      [&](const std::string& why) {
        trouble = why;
        loop.stop();
      });
  loop.run();
  if (!trouble.empty())
    throw Error(ErrorKind::meter, fmt::format("unit {} could not be put on the bench: {}", unit, trouble),
                bench.options.hands, "start the simulator with --lot and the size of the lot");
  return label;
}

}  // namespace switchwright::cli
