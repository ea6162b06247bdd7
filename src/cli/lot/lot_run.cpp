// The inspector's day: one unit at once after the other until the decision is certain. Whatever ends it, every reading is kept,
// and the next run goes on at the reading where this one stopped.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/choose/stated.hpp"
#include "cli/lot/bench.hpp"
#include "cli/lot/lot_common.hpp"
#include "cli/lot/serials.hpp"
#include "cli/lot/sitting.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/verdict_exit.hpp"
#include "switchwright/analysis/lot_unit.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright::cli {

namespace {

using nlohmann::json;

Wall now() { return SystemClock{}.now().wall; }

/// The first result of a unit's record: where it belongs, and with which leads it began.
LotUnitSetup unit_setup(const LotBench& bench, const LotUnitRow& row, const std::optional<Indication>& leads) {
  LotUnitSetup setup{bench.lot_id, bench.opening.lot_number, row.place, row.unit, {}};
  if (leads) setup.leads = {leads->value, leads->resolution};
  return setup;
}

std::optional<Indication> leads_in_setup(const Record& record) {
  const auto* setup = last_of<LotUnitSetup>(record.results);
  if (!setup || !setup->leads) return std::nullopt;
  Indication leads;
  leads.value = setup->leads->ohm;
  leads.resolution = setup->leads->resolution_ohm;
  leads.from.wall = leads.to.wall = record.header.started;
  return leads;
}

class LotWork {
 public:
  LotWork(Store& store, LotBench bench)
      : store_(store), bench_(std::move(bench)), sittings_(bench_), serials_(bench_) {}

  int run();

 private:
  Record lot() const { return store_.load(bench_.lot_id); }
  LotCourse course() const { return course_of(lot()); }

  void test(const LotPlaceState& place);
  void test_again(int unit);
  void test_new(LotUnitRow row, const std::string& plan);
  const std::vector<StatedResult>& stated_of(int unit);
  void go_on_with(const LotPlaceState& place);
  void full_plan_when_it_deviates(LotUnitRow row);
  LotUnitRow run_unit(LotUnitRow row, GuidedWork work);
  void keep(const LotUnitRow& row);
  std::string plan_of(int place) const;
  std::optional<LotPlaceState> next_place(const LotCourse& course) const;
  void show_progress(const LotCourse& course);
  void check_before_the_decision(const LotCourse& at);
  bool finish_anyway(const LotCourse& course);
  int ended(const LotCourse& course) const;

  Store& store_;
  LotBench bench_;
  std::vector<StatedResult> stated_;
  int stated_unit_ = 0;  ///< that they are of; 0: of none yet
  Sittings sittings_;
  Serials serials_;
  std::optional<LotUnitRow> latest_;
  double seconds_ = 0.0;  ///< of the units that this run has done
  int units_ = 0;
  bool acceptance_told_ = false;
};

void LotWork::keep(const LotUnitRow& row) {
  Batch batch;
  batch.lot_units.push_back(row);
  store_.append(bench_.lot_id, batch);
}

/// What deviated on the short plan is owed the full one.
bool is_owed_full_plan(const LotPlaceState& place) {
  return (place.state == UnitState::fail || place.state == UnitState::undecided) && place.plan == "short";
}

std::string LotWork::plan_of(int place) const {
  if (!bench_.options.plan.empty()) return bench_.options.plan;
  const int every = bench_.opening.full_every;
  return every > 0 && place % every == 0 ? "full" : "short";
}

std::optional<LotPlaceState> LotWork::next_place(const LotCourse& course) const {
  for (const LotPlaceState& place : course.places)
    if (!place.open_record.empty()) return place;
  for (const LotPlaceState& place : course.places)
    if (bench_.options.plan.empty() && is_owed_full_plan(place)) return place;
  for (const LotPlaceState& place : course.places)
    if (place.state == UnitState::missing) return place;
  return std::nullopt;
}

/// Runs one session and keeps what became of it. @throws Error(interrupted, meter) when it did not go through.
LotUnitRow LotWork::run_unit(LotUnitRow row, GuidedWork work) {
  const auto from = std::chrono::steady_clock::now();
  const GuidedEnd end = run_guided(store_, std::move(work));
  const std::string go_on = "go on with: switchwright lot run " + bench_.lot_id;
  if (!end.verdict) {
    if (end.stopped_kind == "operator")
      throw Error(ErrorKind::interrupted, "stopped; what was measured is kept", "", go_on);
    throw Error(ErrorKind::meter, end.stopped_text, bench_.options.port, "what was measured is kept; " + go_on);
  }
  LotUnitRow tested = tested_row(store_.load(end.record_id));
  tested.place = row.place;
  tested.unit = row.unit;
  tested.retest = row.retest;
  tested.work_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
  tested.at = now();
  keep(tested);
  latest_ = tested;
  if (end.stopped_kind == "volts-present")
    throw Error(ErrorKind::meter, end.stopped_text, fmt::format("unit {}", row.unit),
                "find out where the volts come from before any other unit is touched; then " + go_on);
  sittings_.went_through(end.record_id);
  return tested;
}

/// What other instruments showed of this unit: given with "lot next", or asked of the person; once for both plans.
const std::vector<StatedResult>& LotWork::stated_of(int unit) {
  if (stated_unit_ == unit) return stated_;
  stated_unit_ = unit;
  stated_.clear();
  for (const std::string& text : bench_.options.stated) stated_.push_back(parse_stated(text, bench_.profile));
  if (bench_.attended()) ask_for_stated(bench_.profile, std::nullopt, stated_);
  return stated_;
}

void LotWork::test_new(LotUnitRow row, const std::string& plan) {
  GuidedWork work = work_on(bench_, bench_.profile, RecordKind::qualify);
  work.header.serial = row.serial;
  work.header.plan = plan == "full" ? "" : plan;
  work.settings.plan = work.header.plan;
  sittings_.apply_to(work.settings, false, std::nullopt);
  work.setup = result_of(unit_setup(bench_, row, sittings_.leads()));
  work.settings.stated = stated_of(row.unit);
  work.begun = [this, row, plan](const std::string& id) {
    LotUnitRow begun = row;
    begun.what = "begun";
    begun.record = id;
    begun.plan = plan;
    begun.operator_name = bench_.options.operator_name;
    begun.at = now();
    keep(begun);
  };
  const LotUnitRow tested = run_unit(row, std::move(work));
  full_plan_when_it_deviates(tested);
}

void LotWork::full_plan_when_it_deviates(LotUnitRow row) {
  if (row.outcome == "pass" || row.plan != "short" || !bench_.options.plan.empty()) return;
  if (!bench_.options.json)
    put_line(fmt::format("  unit {} deviates on the short plan: {} The full plan follows.", row.unit,
                         terminal_safe(row.text)));
  sittings_.be_ready();
  row.severity.clear();
  row.outcome.clear();
  row.text.clear();
  test_new(row, "full");
}

/// The record of an earlier run: finished meanwhile, or to be gone on with where it stopped.
void LotWork::go_on_with(const LotPlaceState& place) {
  Record record = store_.load(place.open_record);
  LotUnitRow row;
  row.place = place.place;
  row.unit = place.unit;
  row.serial = record.header.serial;
  if (record.verdict) {
    LotUnitRow tested = tested_row(record);
    tested.place = place.place;
    tested.unit = place.unit;
    tested.at = now();
    keep(tested);
    latest_ = tested;
    full_plan_when_it_deviates(tested);
    return;
  }
  if (!bench_.options.json)
    put_line(fmt::format("unit {} ({}) goes on at the reading where it stopped, in record {}", place.unit,
                         terminal_safe(row.serial), record.header.id));
  (void)put_on_bench(bench_, place.unit);
  record = take_up(store_, place.open_record, [](RecordKind kind) { return kind == RecordKind::qualify; });
  GuidedWork work = work_on(bench_, bench_.profile, RecordKind::qualify);
  work.header = record.header;
  work.settings.plan = record.header.plan;
  sittings_.apply_to(work.settings, true, leads_in_setup(record));
  work.earlier = record;
  full_plan_when_it_deviates(run_unit(row, std::move(work)));
}

void LotWork::test(const LotPlaceState& place) {
  sittings_.be_ready();
  if (!place.open_record.empty()) return go_on_with(place);
  LotUnitRow row;
  row.place = place.place;
  row.unit = place.unit;
  if (is_owed_full_plan(place)) {  // an earlier run was stopped between the two plans
    (void)put_on_bench(bench_, place.unit);
    row.serial = place.serial;
    return test_new(row, "full");
  }
  if (!bench_.options.json)
    put_line(fmt::format("\nunit {} of {}: take number {} from the carton", place.place, bench_.opening.units.size(),
                         place.unit));
  const std::string label = put_on_bench(bench_, place.unit);
  const Serials::Answer answer = serials_.of(place, label, course(), store_);
  if (answer.lost || answer.stop) {
    if (answer.stop)
      throw Error(ErrorKind::interrupted, "stopped before the unit was begun", "",
                  "go on with: switchwright lot run " + bench_.lot_id);
    row.what = "lost";
    row.text = answer.reason;
    row.operator_name = bench_.options.operator_name;
    row.at = now();
    return keep(row);
  }
  row.serial = answer.serial;
  if (answer.again_place > 0) {  // the piece in the hand is one that was tested before
    const LotPlaceState had = course().places.at(static_cast<std::size_t>(answer.again_place) - 1);
    row.place = had.place;
    row.unit = had.unit;
    row.retest = true;
  }
  sittings_.be_ready();  // the number may have been waited for through a break
  test_new(row, row.retest ? "full" : plan_of(place.place));
}

/// What the unit had before stays; the new record stands beside it.
void LotWork::test_again(int unit) {
  const LotCourse now_at = course();
  const auto found =
      std::find_if(now_at.places.begin(), now_at.places.end(), [&](const LotPlaceState& p) { return p.unit == unit; });
  if (found == now_at.places.end() || found->state == UnitState::missing)
    throw Error(ErrorKind::usage, fmt::format("unit {} was not tested in this lot", unit), "--unit",
                "see: switchwright lot status " + bench_.lot_id);
  LotUnitRow row;
  row.place = found->place;
  row.unit = unit;
  row.retest = true;
  row.serial = found->serial;
  const std::string label = put_on_bench(bench_, unit);
  if (!label.empty() && label != found->serial)
    throw Error(ErrorKind::usage,
                "the unit on the bench bears " + terminal_safe(label) + ", and unit " + std::to_string(unit) + " is " +
                    terminal_safe(found->serial),
                "--unit", "put the right unit on the bench");
  Batch batch;
  batch.events.push_back(
      {now(), "retest", fmt::format("unit {} ({}): {}", unit, found->serial, bench_.options.reason)});
  store_.append(bench_.lot_id, batch);
  sittings_.be_ready();
  test_new(row, bench_.options.plan.empty() ? "full" : bench_.options.plan);
}

void LotWork::show_progress(const LotCourse& at) {
  const auto per_unit = units_ > 0 ? std::optional{seconds_ / units_} : std::nullopt;
  if (bench_.options.json) return put_line(progress_json(bench_.lot_id, at, per_unit));
  put_line(progress_line(at, per_unit));
  if (at.acceptance_certain && at.next() != nullptr && !acceptance_told_) {
    acceptance_told_ = true;
    put_line(certainty_words(at));
  }
}

/// At the end of the sample.
void LotWork::check_before_the_decision(const LotCourse& at) {
  if (at.since_check == 0 || at.rejection_certain) return;
  sittings_.check_before_the_decision();
  show_progress(course());
}

bool LotWork::finish_anyway(const LotCourse& at) {
  if (bench_.options.finish) return true;
  if (!bench_.options.json) put_line(certainty_words(at));
  if (!bench_.attended() || at.next() == nullptr) return false;
  const std::string answer = ask_line("Go on to the end of the sample anyway? y or n [n]: ");
  bench_.options.finish = answer == "y" || answer == "yes";
  return bench_.options.finish;
}

int LotWork::ended(const LotCourse& at) const {
  if (bench_.options.one && latest_) return latest_->outcome == "pass" ? 0 : latest_->outcome == "fail" ? 1 : 3;
  if (!bench_.options.json) {
    if (at.next() == nullptr && !at.rejection_certain)
      put_line(sentences({"the sample is done: " + at.decision, at.reason}));
    put_line("decide with: switchwright lot close " + bench_.lot_id);
  }
  return exit_code_of_decision(at.decision);
}

int LotWork::run() {
  if (bench_.options.retest) {
    test_again(*bench_.options.retest);
    show_progress(course());
    return ended(course());
  }
  for (;;) {
    const LotCourse at = course();
    const auto place = next_place(at);
    if (!place) {
      check_before_the_decision(at);
      return ended(course());
    }
    if (at.rejection_certain && place->open_record.empty() && !finish_anyway(at)) return ended(at);
    const auto from = std::chrono::steady_clock::now();
    test(*place);
    seconds_ += std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
    ++units_;
    show_progress(course());
    if (!bench_.options.one) continue;
    if (const LotCourse done = course(); !next_place(done)) check_before_the_decision(done);
    return ended(course());
  }
}

void require_open(const Record& lot) {
  if (lot.lot_decisions.empty() || lot.lot_decisions.back().decision == "hold") return;
  throw Error(ErrorKind::usage, "the lot is closed: " + lot.lot_decisions.back().decision, "LOT",
              "see it with: switchwright lot report " + lot.header.id);
}

}  // namespace

int run(const LotRunOptions& options) {
  Store store{store_place(options.store)};
  const Record lot = lot_named(store, options.lot);
  require_open(lot);
  store.take_up(lot.header.id);  // one bench at a time counts
  return LotWork{store, lot_bench(store, options, store.load(lot.header.id))}.run();
}

}  // namespace switchwright::cli
