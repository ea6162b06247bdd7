// Checking a profile somebody wrote, and finding the profile that a record fits.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

#include "cli/output.hpp"
#include "cli/places.hpp"
#include "cli/profile_views.hpp"
#include "cli/table.hpp"
#include "cli/write_report.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/verify/diagnosis.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

/// What is allowed but leaves the user of the profile without an answer.
std::vector<std::string> unsaid(const Profile& profile) {
  std::vector<std::string> list;
  if (profile.values.empty()) list.push_back("\"values\" does not say where the numbers come from");
  std::vector<std::string> silent;
  for (const Contact& contact : profile.contacts)
    for (const FaultKind kind : {FaultKind::stuck_closed, FaultKind::stuck_open, FaultKind::resistive})
      if (const Fault fault{kind, contact.id, {}, {}}; !consequence_of(profile, fault))
        silent.push_back(to_string(fault));
  for (const Element& element : profile.elements)
    for (const FaultKind kind : {FaultKind::open, FaultKind::shorted, FaultKind::drifted})
      if (const Fault fault{kind, element.id, {}, {}}; !consequence_of(profile, fault))
        silent.push_back(to_string(fault));
  if (!silent.empty())
    list.push_back("no [[consequence]] says what is to be done about " + joined_with_and(silent));
  const bool cycles = std::any_of(profile.contacts.begin(), profile.contacts.end(),
                                  [](const Contact& c) { return !c.cycles_at.empty(); });
  if (cycles && profile.timing.empty()) list.push_back("a contact cycles, but no [[timing]] limits it");
  if (!profile.powered) list.push_back("no [powered]: voltages under power cannot be worked out");
  if (profile.inspect.empty()) list.push_back("no [[inspect]]: nobody is asked to look at the part");
  return list;
}

struct Candidate {
  std::string id;
  std::string title;
  std::size_t fits = 0;
  std::size_t fails = 0;
  std::size_t undecided = 0;
  double probability = 0.0;
};

std::vector<Measured> measured_in(const Record& record) {
  std::vector<Measured> all;
  if (record.verdict) {
    int placement = 0;
    for (const Finding& finding : record.verdict->findings)
      all.push_back({finding.expected.position, finding.expected.pair, finding.indication, placement++,
                     finding.witness == Witness::witnessed || finding.witness == Witness::stated});
    return all;
  }
  for (const IndicationRow& row : record.indications) {
    const auto step = std::find_if(record.steps.rbegin(), record.steps.rend(),
                                   [&](const StepRow& s) { return s.step == row.step; });
    if (step != record.steps.rend() && step->kind == "measure")
      all.push_back({step->position, Pair{step->pair_first, step->pair_second}, row.indication, row.step,
                     row.contact_stated});
  }
  return all;
}

/// Has every place that was measured.
bool can_hold(const Profile& profile, const std::vector<Measured>& measured) {
  const auto nodes = profile.nodes();
  const auto has = [&](const std::string& node) {
    return std::find(nodes.begin(), nodes.end(), node) != nodes.end();
  };
  return std::all_of(measured.begin(), measured.end(), [&](const Measured& m) {
    return profile.position(m.position) && has(m.pair.first()) && has(m.pair.second());
  });
}

}  // namespace

int check_profile(const ProfilesOptions& options) {
  // A path is meant, even where it has no slash and no ending.
  const Profile profile =
      load_profile(options.check.find('/') == std::string::npos ? "./" + options.check : options.check, {});
  const std::vector<std::string> warnings = unsaid(profile);
  if (options.json) {
    put_line(Json{{"type", "check"},
                  {"file", options.check},
                  {"profile", profile.id},
                  {"terminals", profile.terminals.size()},
                  {"positions", profile.positions.size()},
                  {"contacts", profile.contacts.size()},
                  {"elements", profile.elements.size()},
                  {"unsaid", warnings}}
                 .dump());
    return 0;
  }
  const auto count = [](std::size_t n, const char* noun) {
    return fmt::format("{} {}{}", n, noun, n == 1 ? "" : "s");
  };
  put_line(fmt::format("{} is a sound profile: {}, {}, {}, {}.", terminal_safe(options.check),
                       count(profile.terminals.size(), "terminal"),
                       count(profile.positions.size(), "position"), count(profile.contacts.size(), "contact"),
                       count(profile.elements.size(), "element")));
  for (const std::string& warning : warnings) put_line("  unsaid  " + warning);
  put_line("  see what it expects with: switchwright profiles " + terminal_safe(options.check));
  return 0;
}

int match_record(const ProfilesOptions& options) {
  const Record record = load_record(Store{store_place(options.store)}, options.match);
  const MeterDefinition meter = parse_meter_definition(record.header.meter_text, record.header.meter_id);
  const Profile own = parse_profile(record.header.profile_text, record.header.profile_id);
  const Leads leads{record.leads_before, record.leads_after};
  const std::vector<Measured> measured = measured_in(record);
  if (measured.empty())
    throw Error(ErrorKind::usage, "record " + record.header.id + " holds no resistance reading",
                "profiles match", "measure a part first with: switchwright qualify");
  JudgeSettings settings;
  settings.rule = record.header.rule == "simple" ? DecisionRule::simple : DecisionRule::guarded;
  settings.k = record.header.k;
  Knowledge knowledge = load_knowledge(profile_places());

  const Verdict judged = judge_all(own, expectations(own), measured, {}, meter, leads, settings);
  ExplainSettings all;
  all.doubles = false;
  all.least_probability = 0.0;
  all.most_explanations = 1000;
  const Diagnosis diagnosis =
      explain(own, knowledge.others, judged.findings, {}, meter, leads, knowledge.priors, all);
  std::erase_if(knowledge.others, [&](const Profile& p) { return p.id == own.id; });
  knowledge.others.insert(knowledge.others.begin(), own);

  std::vector<Candidate> fitting;
  std::vector<std::string> other_parts;
  for (const Profile& profile : knowledge.others) {
    if (!can_hold(profile, measured)) {
      other_parts.push_back(profile.id);
      continue;
    }
    Candidate c{profile.id, profile.title};
    for (const Finding& f :
         judge_all(profile, expectations(profile), measured, {}, meter, leads, settings).findings)
      ++(f.outcome == Outcome::pass ? c.fits : f.outcome == Outcome::fail ? c.fails : c.undecided);
    const std::string name = profile.id == own.id ? "none" : "profile:" + profile.id;
    for (const Explanation& e : diagnosis.explanations)
      if (to_string(e.hypothesis) == name) c.probability = e.probability;
    fitting.push_back(std::move(c));
  }
  std::stable_sort(fitting.begin(), fitting.end(), [](const Candidate& x, const Candidate& y) {
    return std::tuple(x.fails, x.undecided, -x.probability) <
           std::tuple(y.fails, y.undecided, -y.probability);
  });

  if (options.json) {
    for (std::size_t i = 0; i < fitting.size(); ++i)
      put_line(Json{{"type", "match"},
                    {"rank", i + 1},
                    {"profile", fitting[i].id},
                    {"fits", fitting[i].fits},
                    {"fails", fitting[i].fails},
                    {"undecided", fitting[i].undecided},
                    {"probability", fitting[i].probability}}
                   .dump());
    return 0;
  }
  put_line(
      fmt::format("Record {} (measured as {}) against the library, best first:", record.header.id, own.id));
  put_line("");
  Table table{{"", "profile", "fit", "fail", "undecided", "probability", "what it is"}};
  int rank = 0;
  for (const Candidate& c : fitting)
    table.add({std::to_string(++rank), c.id, std::to_string(c.fits), std::to_string(c.fails),
               std::to_string(c.undecided), percent_text(c.probability), c.title});
  put(table.text("  "));
  put_line("");
  put_line(
      "  fit, fail, undecided: the readings, judged by that profile. The probability weighs a good part of "
      "each profile");
  put_line(fmt::format("  against every single fault of {}.", own.id));
  if (!other_parts.empty())
    put_line("  Other terminals or positions, so not compared: " + joined_with_and(other_parts));
  return 0;
}

}  // namespace switchwright::cli
