// lot plan: how many units of a carton to test, how many may fail, and what that is worth.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/picture_file.hpp"
#include "cli/view/table.hpp"
#include "cli/view/terminal.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/lot/design.hpp"
#include "switchwright/lot/plan.hpp"
#include "switchwright/lot/simulation.hpp"
#include "switchwright/report/oc_picture.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

/// One plan to weigh against the others.
struct Offer {
  const char* id;    ///< in JSON
  std::string name;  ///< on screen
  StagedPlan plan;
};

/// Everything that is shown, worked out once.
struct Planned {
  SamplingPlan single;
  OcModel model = OcModel::process;
  double aql_p = 0.0;
  Offer chosen;  ///< single, or double with --double
  DoubleOffer two;
  std::vector<Offer> beside;
  std::vector<std::string> notes;
};

bool by_lot(const Planned& planned, const StagedPlan& plan) {
  return planned.model == OcModel::process && planned.single.lot_size <= largest_lot_by_unit &&
         plan.n1 + plan.n2 <= planned.single.lot_size;
}

/// Like the figures beside it for lots of a process; of this lot alone where a process asks for more units than there are.
void offer_zero_acceptance(Planned& planned, double bad_p, double beta) {
  const long lot = planned.single.lot_size;
  StagedPlan plan = zero_acceptance_plan(bad_p, beta, OcModel::process);
  const bool this_lot = plan.n1 >= lot;
  if (this_lot) plan = zero_acceptance_plan(bad_p, beta, OcModel::lot, lot);
  planned.beside.push_back(
      {"zero-acceptance",
       fmt::format("accept on zero, {:.3g} % {}found", 100.0 * bad_p, this_lot ? "of this lot " : ""), plan});
}

void offer_found_plan(Planned& planned, const LotPlanOptions& options) {
  const WantedRisks wanted{planned.aql_p, options.alpha, *options.ltpd_pct / 100.0, options.beta};
  const long lot = planned.single.lot_size;
  auto found = find_single_plan(wanted, OcModel::process);
  const bool this_lot = (!found || found->n1 > lot) && lot <= largest_lot_by_unit;
  if (this_lot) found = find_single_plan(wanted, OcModel::lot, lot);
  if (found && found->n1 <= lot)
    planned.beside.push_back(
        {"found", this_lot ? "keeps both risks of this lot" : "smallest that keeps both risks", *found});
  else
    planned.notes.push_back("No sample of this lot keeps both risks: test every unit, or allow more.");
}

Planned planned_for(const LotPlanOptions& options) {
  Planned planned;
  planned.single = sampling_plan(options.size, inspection_level_named(options.level), options.aql,
                                 inspection_mode_named(options.mode));
  const bool defects = options.aql > largest_percent_aql;
  planned.model = defects ? OcModel::defects : OcModel::process;
  planned.aql_p = options.aql / 100.0;
  planned.two = double_plan(planned.single);
  planned.chosen = {"single", "table, one sample", StagedPlan::of(planned.single)};
  if (options.double_sampling) {
    if (!planned.two.plan)
      throw Error(ErrorKind::usage, "there is no double plan for this lot", "--double", planned.two.why_not);
    planned.chosen = {"double", "table, two samples", StagedPlan::of(*planned.two.plan)};
    planned.beside.push_back({"single", "table, one sample", StagedPlan::of(planned.single)});
  } else if (planned.two.plan) {
    planned.beside.push_back({"double", "table, two samples", StagedPlan::of(*planned.two.plan)});
  }
  if (defects) {
    if (options.ltpd_pct)
      throw Error(ErrorKind::usage, "an AQL above 10 counts defects, not defective units", "--ltpd",
                  "leave it out, or take an AQL up to 10");
    planned.notes.push_back("An AQL above 10 counts defects per hundred units: a unit may have several.");
    return planned;
  }
  const double bad_p =
      options.ltpd_pct
          ? *options.ltpd_pct / 100.0
          : quality_accepted_with(StagedPlan::of(planned.single), OcModel::process, options.beta).value_or(1.0);
  if (bad_p < 1.0 && (options.ltpd_pct || !planned.single.whole_lot))
    offer_zero_acceptance(planned, bad_p, options.beta);
  if (options.ltpd_pct) offer_found_plan(planned, options);
  return planned;
}

double share_of_lot(const Planned& planned) {
  return std::round(planned.aql_p * static_cast<double>(planned.single.lot_size)) /
         static_cast<double>(planned.single.lot_size);
}

Json worth_json(const Planned& planned, const StagedPlan& plan) {
  const long lot = planned.single.lot_size;
  Json json{{"accepted_at_aql",
             acceptance_probability(plan, planned.model,
                                    std::min(planned.aql_p, planned.model == OcModel::defects ? 1e9 : 1.0))}};
  json["producers_risk_at_aql"] = 1.0 - json["accepted_at_aql"].get<double>();
  if (const auto p = quality_accepted_with(plan, planned.model, 0.95)) json["accepted_95_pct_at"] = *p;
  if (const auto p = quality_accepted_with(plan, planned.model, 0.50)) json["accepted_50_pct_at"] = *p;
  if (const auto p = quality_accepted_with(plan, planned.model, 0.10)) json["accepted_10_pct_at"] = *p;
  const OutgoingLimit outgoing = average_outgoing_quality_limit(plan, planned.model, lot);
  json["aoql"] = outgoing.outgoing;
  json["aoql_at"] = outgoing.p;
  json["average_sample_number_at_aql"] = average_sample_number(plan, planned.model, planned.aql_p);
  json["average_total_inspection_at_aql"] = average_total_inspection(plan, planned.model, planned.aql_p, lot);
  return json;
}

void numbers_json(Json& json, const StagedPlan& plan) {
  json["sample_size"] = plan.n1;
  json["accept"] = plan.accept1;
  json["reject"] = plan.reject1;
  if (plan.n2 == 0) return;
  json["second_sample_size"] = plan.n2;
  json["second_accept"] = plan.accept2;
  json["second_reject"] = plan.accept2 + 1;
}

void print_json(const Planned& planned, const LotPlanOptions& options, const std::vector<OcPoint>& curve) {
  const SamplingPlan& s = planned.single;
  Json json{{"type", "plan"},
            {"lot_size", s.lot_size},
            {"level", to_string(s.level)},
            {"aql", s.aql},
            {"mode", to_string(s.mode)},
            {"sampling", planned.chosen.id},
            {"code_letter", std::string(1, s.code_letter)}};
  if (options.double_sampling) {
    numbers_json(json, planned.chosen.plan);
  } else {
    json["sample_size"] = s.sample_size;
    json["accept"] = s.accept;
    json["reject"] = s.reject;
  }
  json["plan_letter"] = std::string(1, s.table.letter);
  json["table_sample_size"] = s.table.sample_size;
  json["whole_lot"] = s.whole_lot;
  json["quality"] = planned.model == OcModel::defects ? "defects per unit" : "share defective";
  json["standard"] = "MIL-STD-105E";
  json["worth"] = worth_json(planned, planned.chosen.plan);
  for (const Offer& offer : planned.beside) {
    Json one{{"sampling", offer.id}};
    numbers_json(one, offer.plan);
    one["worth"] = worth_json(planned, offer.plan);
    json["beside"].push_back(one);
  }
  if (!planned.notes.empty()) json["notes"] = planned.notes;
  put_line(json.dump());
  for (const OcPoint& point : curve) {
    Json one{{"type", "point"}, {"p", point.p}, {"accepted", point.acceptance}};
    if (point.of_lot) one["accepted_of_lot"] = *point.of_lot;
    one["outgoing"] = point.outgoing;
    one["sample_number"] = point.sample_number;
    one["total_inspection"] = point.total_inspection;
    if (options.simulated) {
      const EmpiricalPoint tried = try_plan(planned.chosen.plan, s.lot_size, point.p, *options.simulated, 1);
      one["simulated_lots"] = tried.lots;
      one["simulated_accepted"] = tried.share();
      one["simulated_units"] = static_cast<double>(tried.inspected) / static_cast<double>(tried.lots);
    }
    put_line(one.dump());
  }
}

std::string units(long n) { return fmt::format("{} unit{}", n, n == 1 ? "" : "s"); }

std::string rule_of(const SamplingPlan& s) {
  const bool defects = s.aql > largest_percent_aql;
  const std::string accept = s.accept == 0
                                 ? (defects ? "no defect may be found" : "none may fail")
                                 : fmt::format("up to {} {}", s.accept, defects ? "defects may be found" : "may fail");
  if (s.reject == s.accept + 1) return fmt::format("{}, {} or more reject the lot", accept, s.reject);
  return fmt::format("{}, {} or more reject the lot; between, it is accepted and normal inspection comes back", accept,
                     s.reject);
}

void print_rule(const Planned& planned, const LotPlanOptions& options) {
  const SamplingPlan& s = planned.single;
  const StagedPlan& p = planned.chosen.plan;
  if (options.double_sampling) {
    put_line(fmt::format("Test {} of the {}: {} failed accept the lot, {} reject it.", p.n1, s.lot_size,
                         p.accept1 == 0 ? "none" : fmt::format("up to {}", p.accept1), p.reject1));
    put_line(fmt::format("Between, test {} more: up to {} failed of both accept the lot, {} reject it.", p.n2,
                         p.accept2, p.accept2 + 1));
  } else if (s.whole_lot) {
    put_line(fmt::format("Test all {}: {}.", units(s.lot_size), rule_of(s)));
  } else {
    put_line(fmt::format("Test {} of the {}: {}.", s.sample_size, s.lot_size, rule_of(s)));
  }
  std::string from = fmt::format("MIL-STD-105E, {} inspection, level {}, AQL {}, code letter {}", to_string(s.mode),
                                 to_string(s.level), aql_text(s.aql), s.code_letter);
  if (s.table.letter != s.code_letter) from += fmt::format(", by the table's arrow to {}", s.table.letter);
  if (s.whole_lot) from += fmt::format("; its sample of {} reaches the lot", s.table.sample_size);
  put(paragraph("  ", from + ".", 100));
}

std::string percent(double share) { return fmt::format("{:.1f} %", 100.0 * share); }
std::string quality(const std::optional<double>& p) { return p ? fmt::format("{:.3g}", 100.0 * *p) : "never"; }

void print_beside(const Planned& planned) {
  const long lot = planned.single.lot_size;
  const bool defects = planned.model == OcModel::defects;
  Table table{{"", "test", "accept", "reject", fmt::format("accepted at {}", aql_text(planned.single.aql)), "95 % at",
               "10 % at", "AOQL"}};
  const auto row = [&](const Offer& offer) {
    const StagedPlan& p = offer.plan;
    const bool two = p.n2 > 0;
    table.add({offer.name, two ? fmt::format("{} + {}", p.n1, p.n2) : fmt::format("{}", p.n1),
               two ? fmt::format("{}, {}", p.accept1, p.accept2) : fmt::format("{}", p.accept1),
               two ? fmt::format("{}, {}", p.reject1, p.accept2 + 1) : fmt::format("{}", p.reject1),
               percent(acceptance_probability(p, planned.model, planned.aql_p)),
               quality(quality_accepted_with(p, planned.model, 0.95)),
               quality(quality_accepted_with(p, planned.model, 0.10)),
               quality(average_outgoing_quality_limit(p, planned.model, lot).outgoing)});
  };
  row(planned.chosen);
  for (const Offer& offer : planned.beside) row(offer);
  put_line("");
  put_line(defects ? "What it is worth, in defects per hundred units, beside other plans:"
                   : "What it is worth, in percent defective, beside other plans:");
  put(table.text("  "));
  if (by_lot(planned, planned.chosen.plan) && !planned.single.whole_lot) {
    const auto bad = quality_accepted_with(planned.chosen.plan, OcModel::lot, 0.10, lot);
    const auto defective = static_cast<long>(std::lround(*bad * static_cast<double>(lot)));
    const auto at_aql = std::lround(share_of_lot(planned) * static_cast<double>(lot));
    put(paragraph(
        "  ",
        fmt::format(
            "This lot of {1}: with {0} defective among them it is accepted with {2}; with {3} it still gets through one time in ten.",
            at_aql, lot, percent(acceptance_probability_of_lot(planned.chosen.plan, lot, at_aql)), defective),
        100));
  }
  put(paragraph(
      "  ",
      "accepted at the AQL: the rest is the producer's risk. 95 % at, 10 % at: the producer's and the consumer's point. AOQL: the "
      "worst average that leaves when rejected lots are sorted.",
      100));
  for (const std::string& note : planned.notes) put(paragraph("  ", note, 100));
}

void print_curve(const Planned& planned, const LotPlanOptions& options, const std::vector<OcPoint>& curve) {
  const bool lot = !curve.empty() && curve.back().of_lot.has_value();
  const bool two = planned.chosen.plan.n2 > 0;
  std::vector<std::string> heads{planned.model == OcModel::defects ? "comes in /100" : "comes in %", "accepted"};
  if (lot) heads.push_back("of this lot");
  if (options.simulated) {
    heads.push_back("tried");
    heads.push_back("units until certain");
  }
  heads.push_back("leaves");
  if (two) heads.push_back("units tested");
  heads.push_back("with sorting");
  Table table{heads};
  for (const OcPoint& point : curve) {
    std::vector<std::string> row{fmt::format("{:.3g}", 100.0 * point.p), percent(point.acceptance)};
    if (lot) row.push_back(percent(*point.of_lot));
    if (options.simulated) {
      const EmpiricalPoint tried =
          try_plan(planned.chosen.plan, planned.single.lot_size, point.p, *options.simulated, 1);
      row.push_back(percent(tried.share()));
      row.push_back(fmt::format("{:.1f}", static_cast<double>(tried.inspected) / static_cast<double>(tried.lots)));
    }
    row.push_back(fmt::format("{:.3g}", 100.0 * point.outgoing));
    if (two) row.push_back(fmt::format("{:.1f}", point.sample_number));
    row.push_back(fmt::format("{:.1f}", point.total_inspection));
    table.add(row);
  }
  put_line("");
  put_line("How often a lot is accepted, and what leaves the house:");
  put(table.text("  "));
  put(paragraph(
      "  ",
      std::string{planned.model == OcModel::defects ? "accepted: lots of a process (Poisson)"
                                                    : "accepted: lots of a process (type B, binomial)"} +
          (lot ? "; of this lot: drawn from its whole units (type A, hypergeometric)" : "") +
          ". leaves: average outgoing quality, rejected lots sorted and made good. with sorting: units tested per lot on average.",
      100));
}

void draw(const Planned& planned, const std::string& file) {
  const StagedPlan& plan = planned.chosen.plan;
  const long lot = planned.single.lot_size;
  OcPicture picture;
  picture.title =
      fmt::format("{} of {}{}: level {}, AQL {}, {}", planned.single.whole_lot ? "All" : fmt::format("{}", plan.n1),
                  lot, plan.n2 > 0 ? fmt::format(", then {} more", plan.n2) : "", to_string(planned.single.level),
                  aql_text(planned.single.aql), to_string(planned.single.mode));
  picture.process = oc_curve(plan, planned.model, lot, 241);
  picture.defects = planned.model == OcModel::defects;
  picture.aql_p = planned.aql_p;
  picture.producers_p = quality_accepted_with(plan, planned.model, 0.95);
  picture.consumers_p = quality_accepted_with(plan, planned.model, 0.10);
  picture.outgoing = average_outgoing_quality_limit(plan, planned.model, lot);
  if (by_lot(planned, plan)) {
    const auto last = static_cast<long>(picture.process.back().p * static_cast<double>(lot));
    // A dot for each whole unit, as long as they can be told apart.
    const long step = std::max(1L, last / 60);
    for (long d = 0; d <= last; d += step) {
      OcPoint point;
      point.p = static_cast<double>(d) / static_cast<double>(lot);
      point.acceptance = acceptance_probability_of_lot(plan, lot, d);
      picture.of_lot.push_back(point);
    }
  }
  write_picture(file, oc_picture_svg(picture));
  say("picture written to " + file);
}

/// At round figures of what comes in, some ten to twenty-five of them, until hardly a lot is accepted.
std::vector<OcPoint> round_curve(const Planned& planned) {
  const double end = quality_accepted_with(planned.chosen.plan, planned.model, 0.005).value_or(1.0);
  const double power = std::pow(10.0, std::floor(std::log10(end / 12.0))), digit = end / 12.0 / power;
  const double step = power * (digit < 1.5 ? 1.0 : digit < 3.5 ? 2.0 : digit < 7.5 ? 5.0 : 10.0);
  std::vector<OcPoint> curve;
  const double last = planned.model == OcModel::defects ? end + step : std::min(1.0, end + step);
  for (int i = 0; i * step <= last * (1.0 + 1e-12); ++i)
    curve.push_back(oc_point(planned.chosen.plan, planned.model, planned.single.lot_size, std::min(i * step, last)));
  return curve;
}

}  // namespace

int run(const LotPlanOptions& options) {
  const Planned planned = planned_for(options);
  if (options.simulated && !options.curve)
    throw Error(ErrorKind::usage, "made-up lots are tried along a curve", "--simulate", "add --curve");
  if (options.simulated && planned.model == OcModel::defects)
    throw Error(ErrorKind::usage, "lots are made up for defective units, not for defects", "--simulate",
                "take an AQL up to 10");
  std::vector<OcPoint> curve;
  if (options.curve) curve = round_curve(planned);
  if (options.json) {
    print_json(planned, options, curve);
  } else {
    print_rule(planned, options);
    print_beside(planned);
    if (options.curve) print_curve(planned, options, curve);
  }
  if (!options.picture.empty()) draw(planned, options.picture);
  return 0;
}

}  // namespace switchwright::cli
