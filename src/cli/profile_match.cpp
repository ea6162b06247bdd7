// Checking a profile somebody wrote, and finding the profile that a record fits.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>

#include "cli/choose/places.hpp"
#include "cli/output.hpp"
#include "cli/view/profile_views.hpp"
#include "cli/view/table.hpp"
#include "cli/write_report.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/unfinished.hpp"

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
  if (!rating_is_stated(profile)) list.push_back("[rating] is not what is stamped on the part: nobody has stated it");
  if (!silent.empty()) list.push_back("no [[consequence]] says what is to be done about " + joined_with_and(silent));
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
  std::optional<double> log_evidence = {};         ///< of a good part of that profile; absent: it has other places, too
  std::vector<std::string> same_readings_as = {};  ///< profiles that these readings cannot tell from it
};

/// Each profile as likely as any other beforehand, the part good.
void weigh_alike(std::vector<Candidate>& candidates) {
  double best = -std::numeric_limits<double>::infinity();
  for (const Candidate& c : candidates) best = std::max(best, c.log_evidence.value_or(best));
  double sum = 0.0;
  for (Candidate& c : candidates) sum += c.probability = c.log_evidence ? std::exp(*c.log_evidence - best) : 0.0;
  for (Candidate& c : candidates) c.probability = sum > 0.0 ? c.probability / sum : 0.0;
}

/// Why a profile cannot hold the record; empty when it can.
std::string cannot_hold(const Profile& profile, const std::vector<Measured>& measured) {
  const auto nodes = profile.nodes();
  std::set<std::string> terminals, positions;
  for (const Measured& m : measured) {
    for (const std::string& node : {m.pair.first(), m.pair.second()})
      if (std::find(nodes.begin(), nodes.end(), node) == nodes.end()) terminals.insert(node);
    if (!profile.position(m.position)) positions.insert(m.position);
  }
  const auto listed = [](const char* one, const char* many, const std::set<std::string>& names) {
    return names.empty()
               ? std::string{}
               : fmt::format("no {} {}", names.size() == 1 ? one : many, joined_with_and({names.begin(), names.end()}));
  };
  const std::string a = listed("terminal", "terminals", terminals);
  const std::string b = listed("position", "positions", positions);
  return a.empty() || b.empty() ? a + b : a + "; " + b;
}

/// A record against every profile that has its terminals and positions.
class Match {
 public:
  explicit Match(const ProfilesOptions& options);
  void show_json() const;
  void show() const;

 private:
  void leave_out();
  void judge_by_each();
  void weigh();
  void show_fitting() const;
  void show_left_out() const;
  Verdict judged_by(const Profile& profile) const {
    return judge_all(profile, expectations(profile), measured_, {}, meter_, leads_, settings_);
  }

  Record record_;
  std::vector<Measured> measured_;
  MeterDefinition meter_;
  bool learned_ = false;  ///< measured as nothing yet
  Profile own_;           ///< what the part was measured as
  Leads leads_;
  JudgeSettings settings_;
  Knowledge knowledge_;
  std::vector<std::pair<std::string, std::string>> left_out_;  ///< id, why
  std::vector<Candidate> fitting_;                             ///< best first
};

Match::Match(const ProfilesOptions& options)
    : record_(load_whole_record(Store{store_place(options.store)}, options.match)), measured_(measured_in(record_)) {
  if (measured_.empty())
    throw Error(ErrorKind::usage, "record " + record_.header.id + " holds no resistance reading", "profiles match",
                "measure a part first with: switchwright qualify, or switchwright profiles learn");
  meter_ = parse_meter_definition(record_.header.meter_text, record_.header.meter_id);
  learned_ = record_.header.kind == RecordKind::learn;
  own_ = parse_profile(record_.header.profile_text, record_.header.profile_id);
  own_.id = record_.header.profile_id;
  leads_ = leads_in(record_);
  settings_.rule = decision_rule(record_.header.rule);
  settings_.k = record_.header.k;
  knowledge_ = load_knowledge(profile_places());
  leave_out();
  judge_by_each();
  if (!fitting_.empty()) weigh();
}

void Match::leave_out() {
  std::vector<Profile>& others = knowledge_.others;
  if (!learned_) {
    std::erase_if(others, [&](const Profile& p) { return p.id == own_.id; });
    others.insert(others.begin(), own_);
  }
  std::erase_if(others, [&](const Profile& profile) {
    const std::string why = cannot_hold(profile, measured_);
    if (!why.empty()) left_out_.emplace_back(profile.id, why);
    return !why.empty();
  });
}

bool fits_better(const Candidate& x, const Candidate& y) {
  return std::tuple(x.fails, x.undecided, -x.probability) < std::tuple(y.fails, y.undecided, -y.probability);
}

void Match::judge_by_each() {
  for (const Profile& profile : knowledge_.others) {
    Candidate c{profile.id, profile.title};
    for (const Finding& f : judged_by(profile).findings)
      ++(f.outcome == Outcome::pass ? c.fits : f.outcome == Outcome::fail ? c.fails : c.undecided);
    fitting_.push_back(std::move(c));
  }
  std::stable_sort(fitting_.begin(), fitting_.end(), fits_better);
}

/// What a part was measured as is the likelier beforehand: a good part of each profile is weighed against every single fault
/// of that one. A part that was learned is nothing beforehand: the profiles are weighed against each other.
void Match::weigh() {
  const std::string of = learned_ ? fitting_.front().id : own_.id;
  const auto& others = knowledge_.others;
  const auto found = std::find_if(others.begin(), others.end(), [&](const Profile& p) { return p.id == of; });
  const Profile& base = found == others.end() ? own_ : *found;
  ExplainSettings all;
  all.doubles = false;
  all.least_probability = 0.0;
  all.most_explanations = 1000;
  const Diagnosis diagnosis =
      explain(base, others, judged_by(base).findings, {}, meter_, leads_, knowledge_.priors, all);
  for (Candidate& c : fitting_) {
    const std::string name = c.id == base.id ? "none" : "profile:" + c.id;
    for (const Explanation& e : diagnosis.explanations) {
      if (to_string(e.hypothesis) != name) continue;
      c.probability = e.probability;
      c.log_evidence = e.log_evidence;
      for (const std::string& other : e.same_readings_as)
        if (other.starts_with("profile:") || other == "none")
          c.same_readings_as.push_back(other == "none" ? base.id : other.substr(8));
    }
  }
  if (learned_) weigh_alike(fitting_);
  std::stable_sort(fitting_.begin(), fitting_.end(), fits_better);
}

void Match::show_json() const {
  for (std::size_t i = 0; i < fitting_.size(); ++i)
    put_line(Json{{"type", "match"},
                  {"rank", i + 1},
                  {"profile", fitting_[i].id},
                  {"fits", fitting_[i].fits},
                  {"fails", fitting_[i].fails},
                  {"undecided", fitting_[i].undecided},
                  {"probability", fitting_[i].probability},
                  {"same_readings_as", fitting_[i].same_readings_as}}
                 .dump());
  for (const auto& [id, why] : left_out_) put_line(Json{{"type", "left-out"}, {"profile", id}, {"why", why}}.dump());
}

void Match::show() const {
  put_line(fmt::format("Record {} ({}) against the library, best first:", record_.header.id,
                       learned_ ? "a part that was learned" : "measured as " + own_.id));
  put_line("");
  if (fitting_.empty())
    put_line("  No profile has all the terminals and positions that were measured.");
  else
    show_fitting();
  if (!left_out_.empty()) show_left_out();
}

void Match::show_fitting() const {
  Table table{{"", "profile", "fit", "fail", "undecided", "probability", "what it is"}};
  int rank = 0;
  for (const Candidate& c : fitting_)
    table.add({std::to_string(++rank), c.id, std::to_string(c.fits), std::to_string(c.fails),
               std::to_string(c.undecided), percent_text(c.probability), c.title});
  put(table.text("  "));
  put_line("");
  put_line(
      "  fit, fail, undecided: the readings, judged by that profile. The probability weighs a good part of "
      "each profile");
  put_line(learned_ ? "  against a good part of the others."
                    : fmt::format("  against every single fault of {}.", own_.id));
  const Candidate& best = fitting_.front();
  if (!best.same_readings_as.empty())
    put_line(fmt::format("  These readings cannot tell {} from {}.", best.id, joined_with_and(best.same_readings_as)));
}

void Match::show_left_out() const {
  put_line("");
  put_line(
      "  Not compared. Terminals and positions are compared by their names; where only the names differ, a "
      "copy of the");
  put_line("  profile with the names of this part could be compared:");
  Table others{{"profile", "why"}};
  for (const auto& [id, why] : left_out_) others.add({id, "it has " + why});
  put(others.text("  "));
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
                  {"finished", rating_is_stated(profile)},
                  {"unsaid", warnings}}
                 .dump());
    return 0;
  }
  const auto count = [](std::size_t n, const char* noun) { return fmt::format("{} {}{}", n, noun, n == 1 ? "" : "s"); };
  put_line(fmt::format("{} is {}: {}, {}, {}, {}.", terminal_safe(options.check),
                       rating_is_stated(profile) ? "a sound profile" : "an unfinished profile, without its rating",
                       count(profile.terminals.size(), "terminal"), count(profile.positions.size(), "position"),
                       count(profile.contacts.size(), "contact"), count(profile.elements.size(), "element")));
  for (const std::string& warning : warnings) put_line("  unsaid  " + warning);
  put_line("  see what it expects with: switchwright profiles " + shell_word(options.check));
  return 0;
}

int match_record(const ProfilesOptions& options) {
  const Match match(options);
  options.json ? match.show_json() : match.show();
  return 0;
}

}  // namespace switchwright::cli
