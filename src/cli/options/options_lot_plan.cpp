#include "cli/options/options_lot_plan.hpp"

#include <CLI/CLI.hpp>
#include <memory>

#include "cli/options/option_values.hpp"
#include "switchwright/lot/plan.hpp"

namespace switchwright::cli {

namespace {

struct Table {
  LotPlanOptions plan;
  LotStudyOptions study;
};

void describe_plan(CLI::App& lot, const std::shared_ptr<Table>& table, std::optional<Command>& chosen) {
  auto* plan = lot.add_subcommand("plan", "how many units to test, and how many may fail (MIL-STD-105E)");
  plan->callback([table, &chosen] { chosen = table->plan; });
  auto& o = table->plan;
  add_count(*plan, "--size", o.size, 1, 100'000'000, "unit", "units in the lot")->required();
  plan->add_option("--level", o.level, "inspection level: I, II, III, S-1 to S-4")->capture_default_str();
  add_amount(*plan, "--aql", o.aql, Amount::percent, {0.0, 1000.0, true},
             "acceptable quality level: percent defective, above 10 defects per hundred units")
      ->type_name("AQL")
      ->default_str("1.0");
  plan->add_option("--mode", o.mode, "normal, tightened or reduced")
      ->check(one_of(inspection_mode_names()))
      ->capture_default_str();
  plan->add_flag("--double", o.double_sampling,
                 "two samples: the second only where the first does not decide (normal inspection)");
  plan->add_flag("--curve", o.curve, "how often a lot is accepted, and what leaves the house, by what comes in");
  plan->add_option("--picture", o.picture, "draw that curve")->type_name("FILE.svg|FILE.png");
  add_amount(*plan, "--ltpd", o.ltpd_pct, Amount::percent, {0.0, 100.0, true},
             "percent defective that must be found: also looks for the smallest plan that keeps both risks")
      ->type_name("PERCENT");
  add_amount(*plan, "--alpha", o.alpha, Amount::share, {0.0, 1.0, true}, "producer's risk at the AQL, for that plan")
      ->type_name("SHARE")
      ->default_str("5%");
  add_amount(*plan, "--beta", o.beta, Amount::share, {0.0, 1.0, true}, "consumer's risk at the LTPD")
      ->type_name("SHARE")
      ->default_str("10%");
  add_count(*plan, "--simulate", o.simulated, 100, 10'000'000, "lot",
            "with --curve: also try each point on so many made-up lots");
  plan->add_flag("--json", o.json, "JSON Lines");
}

void describe_study(CLI::App& lot, const std::shared_ptr<Table>& table, std::optional<Command>& chosen) {
  auto* study = lot.add_subcommand("study", "is the bench fit to judge: repeatability, reproducibility, agreement");
  study->callback([table, &chosen] { chosen = table->study; });
  auto& o = table->study;
  study
      ->add_option("FILE", o.file,
                   "table with the columns part, operator and value (or result: pass, fail); - reads standard input")
      ->required();
  study
      ->add_option("--tolerance", o.tolerance,
                   "upper limit less lower limit of the value: the spread is set against it, too")
      ->type_name("VALUE");
  study
      ->add_option("--reference", o.reference,
                   "what the parts are in truth, kept from the operators: table with the columns part and result")
      ->type_name("FILE");
  study->add_flag("--json", o.json, "JSON Lines");
  study->footer(
      "Every part is done equally often by every operator, who does not know which part it is; ten parts, three operators and\n"
      "three repeats are common. For pass and fail take good and bad parts, about half of each, some of them close to the limit.");
}

}  // namespace

void describe_lot_plan(CLI::App& lot, std::optional<Command>& chosen) {
  const auto table = std::make_shared<Table>();
  describe_plan(lot, table, chosen);
  describe_study(lot, table, chosen);
}

}  // namespace switchwright::cli
