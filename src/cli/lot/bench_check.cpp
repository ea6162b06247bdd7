#include "cli/lot/bench_check.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "cli/output.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/uncertainty.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::cli {

Profile reference_profile(const LotOpening& lot, const std::string& position) {
  std::string names, elements;
  for (const ReferenceResistor& resistor : lot.references) {
    names += fmt::format("{}\"{}/1\", \"{}/2\"", names.empty() ? "" : ", ", resistor.name, resistor.name);
    elements += fmt::format(
        "[[element]]\nid = \"{0}\"\nbetween = [\"{0}/1\", \"{0}/2\"]\nnominal_ohm = {1:.9g}\ntolerance_pct = 1\n",
        resistor.name, resistor.ohm);
  }
  const std::string text = fmt::format(
      "schema = 1\ntitle = \"Reference resistors of the bench\"\nvalues = \"as stated when the lot was opened\"\n"
      "[rating]  # of no matter here: nothing is judged by it\nvoltage_v = 1\ncurrent_a = 1\n"
      "[limits]\nclosed_max_ohm = 2.0\nsound_max_ohm = 0.1\nopen_min_ohm = 1e6\n"
      "[terminals]\nnames = [{}]\n[[position]]\nid = \"{}\"\n{}",
      names, position, elements);
  Profile profile = parse_profile(text, "reference resistors");
  profile.id = "reference-resistors";
  return profile;
}

double allowed_ohm(const ReferenceResistor& resistor, const MeterDefinition& meter, const Leads& leads) {
  const AccuracyRow* row = meter.accuracy_for(Quantity::resistance, resistor.ohm, 0.0);
  const Uncertainty at = uncertainty_of(meter, Quantity::resistance, resistor.ohm, row ? row->resolution : 0.0, &leads);
  return at.limit_of_error + 2.0 * std::hypot(at.u_leads, at.u_probes, at.u_resolution) + resistor.U_ohm;
}

std::vector<BenchCheckRow> check_rows(const Record& record, const LotOpening& lot, const MeterDefinition& meter) {
  const Leads leads = leads_in(record);
  std::vector<BenchCheckRow> rows;
  for (const ReferenceResistor& resistor : lot.references) {
    const Pair pair{resistor.name + "/1", resistor.name + "/2"};
    for (const Measured& measured : measured_in(record)) {
      if (!(measured.pair == pair)) continue;
      BenchCheckRow row;
      row.reference = resistor.name;
      row.ohm = resistor.ohm;
      row.U_ohm = resistor.U_ohm;
      row.limit_ohm = allowed_ohm(resistor, meter, leads);
      if (measured.indication.state == ReadingState::finite) {
        row.read_ohm = calibrated(meter, Quantity::resistance, measured.indication.value) - leads.correction_ohm(meter);
        row.in = std::abs(*row.read_ohm - row.ohm) <= row.limit_ohm;
      }
      row.record = record.header.id;
      row.operator_name = record.header.operator_name;
      row.at = measured.indication.to.wall;
      rows.push_back(row);
    }
  }
  return rows;
}

std::string check_words(const BenchCheckRow& row) {
  return fmt::format(
      "bench check: {} of {} reads {}{}: {}", terminal_safe(row.reference), human_ohm(row.ohm),
      row.read_ohm ? human_ohm(*row.read_ohm) : std::string{"over-range"},
      row.read_ohm ? fmt::format(", {:+.3g} ohm where {:.3g} ohm are allowed", *row.read_ohm - row.ohm, row.limit_ohm)
                   : "",
      row.in ? "in" : "OUT");
}

std::string check_bench(const LotBench& bench, const Sitting& sitting, const std::string& acknowledged_how) {
  const Profile profile = reference_profile(bench.opening, bench.profile.positions.front().id);
  GuidedWork work = work_on(bench, profile, RecordKind::bench_check);
  work.header.part = "reference resistors";
  work.header.rule.clear();  // nothing is judged
  work.setup = result_of(BenchCheckSetup{bench.lot_id});
  work.settings.measure_only = true;
  work.settings.plan = "short";
  work.settings.knowledge.reset();
  work.settings.inspection.reset();
  work.settings.sitting = sitting;
  work.settings.acknowledged_how = acknowledged_how;
  const GuidedEnd end = run_guided(bench.store, work);
  if (end.stopped_kind == "operator")
    throw Error(ErrorKind::interrupted, "the bench check was stopped; nothing was decided");
  if (!end.completed)
    throw Error(ErrorKind::meter, "the bench check did not go through: " + end.stopped_text, bench.options.port,
                "put it right, then go on with: switchwright lot run " + bench.lot_id);

  Batch batch;
  batch.bench_checks = check_rows(bench.store.load(end.record_id), bench.opening, bench.meter);
  if (batch.bench_checks.size() != bench.opening.references.size())
    throw Error(ErrorKind::meter, "the bench check did not read every resistor", bench.options.port,
                "check the bench again");
  bench.store.append(bench.lot_id, batch);
  bool in = true;
  for (const BenchCheckRow& row : batch.bench_checks) {
    in = in && row.in;
    if (bench.options.json) {
      nlohmann::ordered_json line{{"type", "bench-check"}, {"reference", row.reference}, {"ohm", row.ohm}};
      if (row.read_ohm) line["read_ohm"] = *row.read_ohm;
      line["limit_ohm"] = row.limit_ohm;
      line["in"] = row.in;
      put_line(line.dump());
    } else {
      put_line(check_words(row));
    }
  }
  if (!in)
    throw Error(
        ErrorKind::meter, "the bench is out: it reads a resistor of known value wrongly", bench.options.port,
        "no unit is tested with it; look at leads, fuse, battery and calibration, then begin again. What was tested since the "
        "last check that was in counts as undecided");
  return end.record_id;
}

}  // namespace switchwright::cli
