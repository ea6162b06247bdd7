// The lot report as a page: the decision first, then what it rests on, the statistics, and the units in an appendix.
#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/html_style.hpp"
#include "report/lot_pictures.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/lot/operating_characteristic.hpp"
#include "switchwright/report/lot_report.hpp"
#include "switchwright/report/oc_picture.hpp"

namespace switchwright {

namespace {

constexpr const char* lot_style = R"css(
.verdict.accept { color: var(--pass); border-color: var(--pass); background: var(--pass-soft); }
.verdict.reject { color: var(--fail); border-color: var(--fail); background: var(--fail-soft); }
.verdict.hold { color: var(--undecided); border-color: var(--undecided); border-style: dashed; background: var(--undecided-soft); }
.verdict.open { color: var(--unfinished); border-color: var(--unfinished); border-style: dotted; background: var(--unfinished-soft); }
td.n, th.n { text-align: right; }
.named { color: var(--fail); font-weight: 700; }
.appendix { break-before: page; }
@media print { h2 { margin-top: 5mm; } .verdict { padding: 10px 18px; } .picture svg { max-height: 38mm; } .remarks { margin: 1mm 0; font-size: 9pt; } h3 { margin: 2mm 0 0; } .cautions { margin-top: 5mm; } }
)css";

std::string cell(const std::string& text, const char* kind = "") {
  return fmt::format("<td{}>{}</td>", kind, html_safe(text));
}
std::string number(const std::string& text) { return cell(text, " class=\"n\""); }
std::string share(double value) { return fmt::format("{:.2f} %", 100.0 * value); }
std::string date_of(Wall at) { return iso8601(at).substr(0, 16); }

std::string head(const LotDocument& document) {
  const Record& lot = document.lot;
  const bool closed = !lot.lot_decisions.empty();
  const std::string decision = closed ? lot.lot_decisions.back().decision : document.course.decision;
  const std::string title = closed ? decision : "open";
  const std::string reason =
      closed ? lot.lot_decisions.back().reason
             : sentences({"Not closed yet. Closed now it would be: " + decision, document.course.reason});
  std::string html = fmt::format("<header><div class=\"verdict {}\"><div><h1>{}</h1><p>{}</p></div></div>", title,
                                 html_safe(title == "open" ? "Lot is open" : "Lot: " + decision), html_safe(reason));
  html += fmt::format(
      "<p class=\"about\"><span><b>Part</b> {}</span><span><b>Supplier</b> {}</span><span><b>Lot</b> {}</span><span><b>Order</b> {}</span>"
      "<span><b>Size</b> {}</span><span><b>Opened</b> {}</span>{}</p></header>\n",
      html_safe(lot.header.part), html_safe(lot.lot->supplier), html_safe(lot.lot->lot_number),
      lot.lot->order.empty() ? "<span class=\"missing\">not given</span>" : html_safe(lot.lot->order), lot.lot->size,
      date_of(lot.header.started),
      closed ? fmt::format("<span><b>Decided</b> {} by {}</span>", date_of(lot.lot_decisions.back().at),
                           html_safe(lot.lot_decisions.back().operator_name))
             : "");
  return html;
}

std::string aql_words(const LotClassPlan& plan) {
  return plan.aql > 0.0 ? fmt::format("{:g}", plan.aql) : plan.accept == 0 ? "on zero" : "agreed";
}

std::string counts(const LotDocument& document) {
  std::string html =
      "<h2>Sample and count</h2>\n<div class=\"table\"><table><thead><tr><th>Class</th><th class=\"n\">AQL</th><th class=\"n\">Sample</th>"
      "<th class=\"n\">Accept</th><th class=\"n\">Reject</th><th class=\"n\">Defective</th><th class=\"n\">Undecided</th><th class=\"n\">Not tested</th>"
      "<th>Defective in the lot, 95 % confidence</th></tr></thead><tbody>\n";
  for (const LotClassCount& count : document.course.classes) {
    const long tested = count.plan.sample_size - count.undecided - count.missing;
    std::string bounds = "no unit decided";
    if (tested > 0) {
      const Bounds exact = clopper_pearson(count.defective, tested), score = wilson(count.defective, tested);
      bounds = fmt::format("{} to {} (Clopper-Pearson); {} to {} (Wilson)", share(exact.low), share(exact.high),
                           share(score.low), share(score.high));
    }
    html += fmt::format("<tr class=\"{}\"><th>{}</th>", count.rejected ? "fail" : "", count.plan.severity) +
            number(aql_words(count.plan)) + number(std::to_string(count.plan.sample_size)) +
            number(std::to_string(count.plan.accept)) + number(std::to_string(count.plan.reject)) +
            number(std::to_string(count.defective)) + number(std::to_string(count.undecided)) +
            number(std::to_string(count.missing)) + cell(bounds) + "</tr>\n";
  }
  html += "</tbody></table></div>\n";
  const LotOpening& lot = *document.lot.lot;
  html += fmt::format(
      "<p class=\"lead\">MIL-STD-105E, single sampling, level {}, {} inspection: {} Units drawn {}, seed {}; a unit counts in the worst "
      "class that it shows a defect of. {} good, {} defective of {} in the sample.</p>\n",
      html_safe(lot.level), html_safe(lot.mode), html_safe(lot.mode_reason),
      lot.drawing == "random" ? "at random" : "systematically", lot.seed, document.course.passed,
      document.course.failed, document.course.places.size());
  if (!lot.resubmits.empty())
    html += fmt::format("<p><b>This lot comes again</b>: it was not accepted as {}. Done since: {}</p>\n",
                        html_safe(lot.resubmits), html_safe(lot.resubmitted_words));
  if (!lot.corrective_action.empty())
    html += "<p><b>Acceptance had been discontinued.</b> The supplier's corrective action: " +
            html_safe(lot.corrective_action) + "</p>\n";
  for (const std::string& fault : document.faults) html += "<p class=\"named\">" + html_safe(fault) + "</p>\n";
  return html;
}

/// Of the class that is judged by a table or an agreed number: critical defects are accepted on zero, whatever comes.
const LotClassPlan& leading(const LotDocument& document) {
  const auto& classes = document.lot.lot->classes;
  for (const LotClassPlan& plan : classes)
    if (plan.severity == "major") return plan;
  return classes.front();
}

/// What the sample can tell, and what it cannot: an accepted lot may hold defective units.
std::string worth(const LotDocument& document) {
  const long size = document.lot.lot->size;
  std::string html =
      "<h2>What the sample can tell</h2>\n<div class=\"table\"><table><thead><tr><th>Class</th><th class=\"n\">95 % accepted</th>"
      "<th class=\"n\">10 % accepted</th><th class=\"n\">AOQL</th><th class=\"n\">ATI at the AQL</th></tr></thead><tbody>\n";
  const auto maybe_share = [](const std::optional<double>& p) { return p ? share(*p) : "-"; };
  for (const LotClassCount& count : document.course.classes) {
    const StagedPlan plan = StagedPlan::single(count.plan.sample_size, count.plan.accept);
    html += "<tr><th>" + html_safe(count.plan.severity) + "</th>" +
            number(maybe_share(quality_accepted_with(plan, OcModel::process, 0.95))) +
            number(maybe_share(quality_accepted_with(plan, OcModel::process, 0.10))) +
            number(share(average_outgoing_quality_limit(plan, OcModel::process, size).outgoing)) +
            number(count.plan.aql > 0.0 && count.plan.aql <= 10.0
                       ? fmt::format("{:.1f}",
                                     average_total_inspection(plan, OcModel::process, count.plan.aql / 100.0, size))
                       : "-") +
            "</tr>\n";
  }
  const LotClassPlan& major = leading(document);
  const StagedPlan plan = StagedPlan::single(major.sample_size, major.accept);
  OcPicture picture;
  picture.title = fmt::format("{}: {} of {}, accepted with {}", major.severity, major.sample_size, size, major.accept);
  picture.acceptance_only = true;
  picture.process = oc_curve(plan, OcModel::process, size, 241);
  picture.aql_p = major.aql / 100.0;
  picture.producers_p = quality_accepted_with(plan, OcModel::process, 0.95);
  picture.consumers_p = quality_accepted_with(plan, OcModel::process, 0.10);
  picture.outgoing = average_outgoing_quality_limit(plan, OcModel::process, size);
  return html +
         "</tbody></table></div>\n<p class=\"lead\">The share of defective units delivered (type B, binomial) that is accepted 95 and "
         "10 times of 100; the most that leaves on average, and the units tested on average, when rejected lots are sorted. An "
         "accepted lot is not a lot without defective units.</p>\n<div class=\"picture\">" +
         oc_picture_svg(picture) + "</div>\n";
}

std::string versions(const LotDocument& document) {
  const auto& all = document.values.versions;
  if (all.empty()) return {};
  std::string html = "<h2>Is it the version that was ordered?</h2>\n";
  std::string named;
  std::size_t ordered = 0;
  for (const LotVersion& one : all) {
    if (one.version.answer == VersionAnswer::ordered) {
      ++ordered;
      continue;
    }
    named += fmt::format("<li class=\"named\">Unit {} ({}): {}</li>\n", one.unit, html_safe(one.serial),
                         html_safe(one.version.words));
  }
  html += fmt::format("<p>{} of {} units have the element of the version that was ordered.</p>\n", ordered, all.size());
  if (!named.empty()) html += "<ul class=\"remarks\">" + named + "</ul>\n";
  html +=
      "<p class=\"lead\">Before anything was measured 97 % were taken to be as ordered, 2 % to be each other version, 1 % neither: assumed.</p>\n";
  return html;
}

std::string maybe(const std::optional<double>& value) { return value ? fmt::format("{:.2f}", *value) : "-"; }
std::string bounded(const std::optional<double>& value, const std::optional<Bounds>& bounds) {
  return value && bounds ? fmt::format("{:.2f} ({:.2f} to {:.2f})", *value, bounds->low, bounds->high) : maybe(value);
}
std::string told(const std::optional<double>& value, const LotMeasurand& measurand) {
  return value ? value_words(*value, measurand.in) : "-";
}

std::vector<double> plain(const LotMeasurand& measurand) {
  std::vector<double> values;
  for (const LotValue& value : measurand.values) values.push_back(value.value);
  return values;
}

std::string notes_of(const LotMeasurand& measurand, const Capability& figures) {
  const std::vector<double> values = plain(measurand);
  const auto words = [&](double value) { return value_words(value, measurand.in); };
  std::vector<std::string> notes;
  if (const auto normal = shapiro_wilk(values))
    notes.push_back(
        fmt::format("Normality (Shapiro-Wilk): W = {:.3f}, p = {:.3g}{}", normal->w, normal->p,
                    normal->p < 0.05 ? ": not normal, so that Cp, Cpk and the tolerance interval say little" : ""));
  if (figures.mean && figures.sd && figures.n >= 2) {
    const double k = two_sided_k(figures.n, 0.95, 0.95);
    notes.push_back(fmt::format("Tolerance interval (95 % of the units, confidence 95 %): {} to {}",
                                words(*figures.mean - k * *figures.sd), words(*figures.mean + k * *figures.sd)));
  }
  if (figures.outside_exact)
    notes.push_back(fmt::format(
        "Outside the limits: {} of {}; in the lot {} to {} (Clopper-Pearson), {} to {} (Wilson)",
        figures.below + figures.above, figures.n, share(figures.outside_exact->low), share(figures.outside_exact->high),
        share(figures.outside_wilson->low), share(figures.outside_wilson->high)));
  double u = 0.0;
  for (const LotValue& value : measurand.values) u = std::max(u, value.U / 2.0);
  if (const auto meter = meter_share(figures, u))
    notes.push_back(fmt::format("The meter's standard uncertainty is {:.2f} of the spread{}", meter->ratio,
                                meter->meter_dominates
                                    ? ": its accuracy, though mostly the same for every unit, could make up much of it"
                                    : ""));
  std::string apart;
  for (const std::size_t i : outliers(values))
    apart += fmt::format("{}{} ({})", apart.empty() ? "" : ", ", measurand.values[i].serial,
                         words(measurand.values[i].value));
  if (!apart.empty()) notes.push_back("Stand apart (generalised ESD; none is dropped): " + apart);
  if (const auto chart = individuals_chart(values); chart && !chart->outside.empty()) {
    std::string out;
    for (const std::size_t i : chart->outside) out += (out.empty() ? "" : ", ") + measurand.values[i].serial;
    notes.push_back("Outside the chart's limits: " + out);
  }
  std::string html = "<ul class=\"remarks\">";
  for (const std::string& note : notes) html += "<li>" + html_safe(note) + "</li>";
  return html + "</ul>\n";
}

/// The two pages have room for the pictures of so many values; those of the others stand in the appendix.
constexpr int pictures_in_front = 1;

struct Statistics {
  std::string front, further;
};

Statistics statistics(const LotDocument& document) {
  std::string table, details, further;
  std::vector<std::pair<std::string, std::string>> without;  ///< why, and the values that it is said of
  int drawn = 0;
  for (const LotMeasurand& measurand : document.values.measurands) {
    if (!measurand.why_not.empty()) {
      if (without.empty() || without.back().first != measurand.why_not) without.push_back({measurand.why_not, ""});
      without.back().second += (without.back().second.empty() ? "" : ", ") + measurand.name;
      continue;
    }
    const Capability figures = capability(plain(measurand), measurand.limits);
    table += "<tr><th>" + html_safe(measurand.name) + "</th>" + number(std::to_string(figures.n)) +
             number(told(figures.mean, measurand)) + number(told(figures.sd, measurand)) +
             number(told(figures.min, measurand)) + number(told(figures.max, measurand)) +
             number(bounded(figures.cp, figures.cp_limits)) + number(bounded(figures.cpk, figures.cpk_limits)) +
             "</tr>\n";
    const std::string picture = fmt::format("<h3>{}</h3>\n<div class=\"picture\">", html_safe(measurand.name)) +
                                values_picture(measurand, ++drawn) + "</div>\n" + notes_of(measurand, figures);
    (drawn <= pictures_in_front ? details : further) += picture;
  }
  std::string html = "<h2>What was measured</h2>\n";
  if (!table.empty())
    html +=
        "<div class=\"table\"><table><thead><tr><th>Value</th><th class=\"n\">Units</th><th class=\"n\">Mean</th><th class=\"n\">Spread s</th><th class=\"n\">Least</th><th class=\"n\">Most</th>"
        "<th class=\"n\">Cp (95 %)</th><th class=\"n\">Cpk (95 %)</th></tr></thead><tbody>" +
        table + "</tbody></table></div>\n" + details;
  for (const auto& [why, names] : without)
    html += fmt::format("<p class=\"lead\">Without statistics: {}: {}</p>\n", html_safe(names), html_safe(why));
  return {html, further};
}

std::string bench(const LotDocument& document) {
  const auto& checks = document.lot.bench_checks;
  std::string html = "<h2>Bench and safety</h2>\n";
  if (document.lot.lot->references.empty())
    html +=
        "<p><span class=\"missing\">No reference resistors were named when the lot was opened: the bench was not checked.</span></p>\n";
  else if (checks.empty())
    html += "<p><span class=\"missing\">The bench was not checked yet.</span></p>\n";
  else
    html += "<div class=\"picture\">" + checks_picture(checks) + "</div>\n";
  html += "<p>" + html_safe(document.sitting_rule) + "</p>\n<ul class=\"remarks\">";
  for (const Acknowledgement& row : document.lot.acknowledgements)
    html += fmt::format("<li>{}: {} ({}), {}</li>", date_of(row.at), html_safe(row.what), html_safe(row.who),
                        html_safe(row.how));
  return html + "</ul>\n<p class=\"lead\">Local codes and licensed practice come first.</p>\n";
}

std::string history(const LotDocument& document) {
  if (document.history.empty()) return {};
  long decided = 0, accepted = 0;
  for (const LotOfSupplier& lot : document.history) {
    decided += lot.decision == "accept" || lot.decision == "reject";
    accepted += lot.decision == "accept";
  }
  std::string html =
      "<h2>This part from this supplier</h2>\n<div class=\"picture\">" + mode_picture(document.history) + "</div>\n";
  html += fmt::format("<p>{} of {} decided lots accepted. The next lot: <b>{}</b> inspection. {}</p>\n", accepted,
                      decided, html_safe(document.next_mode), html_safe(document.next_reason));
  return html;
}

/// The appendix has room for what tells the units apart.
bool is_contact(const LotMeasurand& measurand) { return measurand.in == LotUnitOfValue::ohm && !measurand.is_element; }

std::string appendix(const LotDocument& document, const std::string& further) {
  std::string html =
      "<section class=\"appendix\"><h2>Appendix: the units</h2>\n<div class=\"table\"><table><thead><tr><th class=\"n\">Place</th><th class=\"n\">Unit</th><th>Serial</th>"
      "<th>State</th><th>Class</th><th>Plan</th>";
  for (const LotMeasurand& measurand : document.values.measurands)
    if (!is_contact(measurand)) html += "<th class=\"n\">" + html_safe(measurand.name) + "</th>";
  html += "<th>Record</th><th>Why, and what happened</th></tr></thead><tbody>\n";
  for (const LotPlaceState& place : document.course.places) {
    const char* row = place.state == UnitState::fail ? "fail" : place.state == UnitState::pass ? "pass" : "undecided";
    html += fmt::format("<tr class=\"{}\">", row) + number(std::to_string(place.place)) +
            number(std::to_string(place.unit)) + cell(place.serial) +
            cell(to_string(place.state), " class=\"judged\"") + cell(place.severity) + cell(place.plan);
    for (const LotMeasurand& measurand : document.values.measurands) {
      if (is_contact(measurand)) continue;
      std::string value;
      for (const LotValue& one : measurand.values)
        if (one.unit == place.unit) value = value_words(one.value, measurand.in);
      html += number(value);
    }
    std::string what = place.state == UnitState::pass ? "" : place.why;
    for (const LotUnitRow& event : document.lot.lot_units)
      if (event.place == place.place && (event.what == "lost" || event.what == "replaced"))
        what += (what.empty() ? "" : "; ") + event.what + " " + event.text;
    if (place.retested) what += what.empty() ? "retested" : "; retested";
    html += cell(place.record) + cell(what) + "</tr>\n";
  }
  return html + "</tbody></table></div>\n" + further + "</section>\n";
}

}  // namespace

std::string lot_html(const LotDocument& document) {
  std::string html = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<title>Lot {}</title><style>{}{}</style></head><body>\n",
      html_safe(document.lot.lot->lot_number), html_style, lot_style);
  if (document.lot.header.simulated)
    html += "<p class=\"simulated\">SIMULATED: measured on a simulated carton, not on real parts</p>\n";
  const Statistics measured = statistics(document);
  html += head(document) + "<main>" + counts(document) + versions(document) + measured.front + history(document) +
          worth(document) + bench(document) + appendix(document, measured.further) + "</main>\n";
  html += fmt::format(
      "<footer><p>Record {} made with switchwright {}; chain of {} batches ends at <code class=\"head\">{}</code>. Profile {} ({}); meter {}.</p></footer></body></html>\n",
      html_safe(document.lot.header.id), html_safe(document.lot.header.tool_version), document.lot.batches,
      html_safe(document.lot.chain_head), html_safe(document.lot.header.profile_id),
      html_safe(document.lot.header.profile_values), html_safe(document.lot.header.meter_id));
  return html;
}

std::string lot_pdf(const LotDocument& document) { return pdf_of_page(lot_html(document)); }

}  // namespace switchwright
