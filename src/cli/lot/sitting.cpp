#include "cli/lot/sitting.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "cli/choose/choices.hpp"
#include "cli/lot/bench_check.hpp"
#include "cli/output.hpp"
#include "switchwright/analysis/lot_course.hpp"
#include "switchwright/bench/plan.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

constexpr const char* meter_proven_event = "meter-proven";

Wall now() { return SystemClock{}.now().wall; }

}  // namespace

std::string Sittings::rule(bool parts_are_new) {
  return parts_are_new
             ? "Absence of voltage is stated, not measured: the part is new and was never connected to a supply, so it is no circuit "
               "that was de-energised (29 CFR 1910.333(b)). The meter was proven on known sources at the start of the sitting; after a "
               "break it is proven again."
             : "The part was in use: it is proven dead by itself, the meter proven before and after (29 CFR "
               "1910.333(b)(2)(iv)(B)); only the acknowledgement is given once per sitting.";
}

/// What an earlier run of the command has done still stands when there was no break.
void Sittings::look_back() {
  looked_back_ = true;
  const Record lot = bench_.store.load(bench_.lot_id);
  if (lot.acknowledgements.empty()) return;
  const Acknowledgement& latest = lot.acknowledgements.back();
  if (latest.who != bench_.options.operator_name) return;
  Wall at = latest.at;
  std::string proven;
  for (const EventRow& event : lot.events)
    if (event.kind == meter_proven_event && event.at >= latest.at) {
      proven = event.text;
      at = std::max(at, event.at);
    }
  for (const LotUnitRow& row : lot.lot_units)
    if (row.what == "tested") at = std::max(at, row.at);
  // Another meter, or one whose port is another: nobody has proven that one.
  if (!proven.empty()) {
    const RecordHeader header = bench_.store.load(proven).header;
    if (header.port != bench_.options.port ||
        header.meter_serial != (bench_.own ? bench_.own->serial : bench_.options.meter_serial))
      return;
  }
  last_work_ = at;
  acknowledged_how_ = latest.how;
  proven_in_ = proven;
}

void Sittings::acknowledge() {
  const bool parts_are_new = bench_.parts_are_new();
  const std::string what = parts_are_new ? "never-connected" : "de-energised";
  const std::string words = parts_are_new ? never_connected_words() : de_energised_words();
  const auto& given = bench_.options.acknowledge;
  Acknowledgement row{now(), what, bench_.options.operator_name, "option --acknowledge " + what, words};
  if (std::find(given.begin(), given.end(), what) == given.end()) {
    if (!bench_.attended())
      throw Error(ErrorKind::usage, "the acknowledgement of this sitting is missing", "",
                  "give --acknowledge " + what + " when this is true: " + words);
    put_line("\n" + words);
    put_line("For this sitting, and again after a break. " + rule(parts_are_new));
    while (ask_line("Type your name to acknowledge it: ") != row.who)
      put_line("The operator is " + terminal_safe(row.who) + ": the same name, or stop with Ctrl-D.");
    row.how = "typed at the terminal";
  }
  acknowledged_how_ =
      fmt::format("{} for this sitting of lot {}, {}", row.how, bench_.opening.lot_number, iso8601(row.at));
  row.how = acknowledged_how_;
  Batch batch;
  batch.acknowledgements.push_back(row);
  bench_.store.append(bench_.lot_id, batch);
}

void Sittings::begin() {
  proven_in_.clear();
  leads_.reset();
  acknowledge();
  last_work_ = now();
}

void Sittings::be_ready() {
  if (!looked_back_) look_back();
  const auto goes_on = [&] {
    if (!last_work_) return false;
    const double gone_s = std::chrono::duration<double>(now() - *last_work_).count();
    return gone_s >= 0.0 && gone_s <= bench_.options.break_s;
  };
  if (!goes_on()) begin();
  if (bench_.opening.references.empty()) return;
  const Record lot = bench_.store.load(bench_.lot_id);
  const auto checked = [&] {
    if (lot.bench_checks.empty()) return false;
    const double gone_s = std::chrono::duration<double>(now() - lot.bench_checks.back().at).count();
    if (gone_s < 0.0 || gone_s > bench_.options.check_every_s) return false;
    const std::string& latest = lot.bench_checks.back().record;
    if (bench_.store.load(latest).header.port != bench_.options.port) return false;
    return std::all_of(lot.bench_checks.begin(), lot.bench_checks.end(),
                       [&](const BenchCheckRow& row) { return row.record != latest || row.in; });
  };
  if (checked()) return;
  if (bench_.attended()) put_line("\nBefore this shift the bench is checked with the reference resistors.");
  check();
}

void Sittings::check_before_the_decision() {
  be_ready();
  if (course_of(bench_.store.load(bench_.lot_id)).since_check == 0) return;  // a break has done it
  if (bench_.attended())
    put_line("\nThe sample is done. The bench is checked once more with the reference resistors, then it counts.");
  check();
}

void Sittings::check() {
  SessionSettings settings;
  apply_to(settings, false, std::nullopt);
  Sitting sitting = settings.sitting.value_or(Sitting{});
  sitting.who = bench_.options.operator_name;
  sitting.rule = "Reference resistors are connected to nothing else.";
  went_through(check_bench(bench_, sitting, acknowledged_how_));
}

void Sittings::apply_to(SessionSettings& settings, bool goes_on, const std::optional<Indication>& began_with) const {
  settings.acknowledged_by = bench_.options.operator_name;
  settings.acknowledged_how = acknowledged_how_;
  if (!bench_.parts_are_new()) return;
  Sitting sitting;
  sitting.who = bench_.options.operator_name;
  sitting.meter_proven = !proven_in_.empty();
  sitting.rule = rule(true);
  sitting.leads = goes_on ? began_with : leads_;
  sitting.leads_stand = !goes_on && leads_.has_value();
  sitting.proven_words =
      fmt::format("The meter was proven on known sources in this sitting, in record {}.{}", proven_in_,
                  sitting.leads_stand ? fmt::format(" The leads stand as read after the unit before: {}.",
                                                    human_value(leads_->value, leads_->quantity, leads_->resolution))
                                      : std::string{});
  settings.sitting = sitting;
}

void Sittings::went_through(const std::string& record) {
  const Record ended = bench_.store.load(record);
  last_work_ = now();
  // Leads that were refused, or could not be read, are read again before the next unit.
  leads_ = ended.leads_after;
  if (leads_ && (leads_->state != ReadingState::finite || leads_->value > most_lead_ohm)) leads_.reset();
  if (!proven_in_.empty() || (!bench_.parts_are_new() && ended.header.kind != RecordKind::bench_check)) return;
  const bool proven =
      std::any_of(ended.steps.begin(), ended.steps.end(), [](const StepRow& row) { return row.kind == "prove-meter"; });
  if (!proven) return;
  proven_in_ = record;
  Batch batch;
  batch.events.push_back({now(), meter_proven_event, record});
  bench_.store.append(bench_.lot_id, batch);
}

}  // namespace switchwright::cli
