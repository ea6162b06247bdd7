#include "report/view.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "report/guided.hpp"
#include "report/trace_view.hpp"
#include "report/voltages.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/additions.hpp"

namespace switchwright {

namespace {

template <typename T>
void add_once(std::vector<T>& list, const T& item) {
  if (std::find(list.begin(), list.end(), item) == list.end()) list.push_back(item);
}

Mark mark_of(const Finding& finding) {
  if (finding.continuity != Outcome::fail && finding.sound == Outcome::fail) return Mark::not_sound;
  if (finding.outcome == Outcome::fail) return Mark::fail;
  return finding.outcome == Outcome::undecided ? Mark::undecided : Mark::pass;
}

/// A record is never lost for want of a profile that can still be read.
std::optional<Profile> profile_in(const RecordHeader& header) {
  if (header.profile_text.empty()) return std::nullopt;
  try {
    return parse_profile(header.profile_text, header.profile_id);
  } catch (const Error&) {
    return std::nullopt;
  }
}

/// "prove-meter" -> "prove meter": step and event kinds are words joined by hyphens.
std::string spaced(std::string text) {
  std::replace(text.begin(), text.end(), '-', ' ');
  return text;
}

NamedFact fact(std::string name, const std::string& value, const std::string& otherwise) {
  return value.empty() ? NamedFact{std::move(name), otherwise, true} : NamedFact{std::move(name), value, false};
}

std::string lead_text(const std::optional<Indication>& leads) { return leads ? shown_text(*leads) : "not measured"; }

}  // namespace

View::View(const Record& record) : record_(record), profile_(profile_in(record.header)) {
  if (profile_ && !is_drop(record)) {
    for (const Position& position : profile_->positions) positions_.push_back(position.id);
    if (facts_of(record.header.kind).reads_pairs) pairs_ = profile_->pairs();  // else no resistance was asked for
  }
  const auto metal_last = [&] {
    std::stable_partition(pairs_.begin(), pairs_.end(), [&](const Pair& pair) { return !touches_exposed_metal(pair); });
  };
  const auto put = [&](const Expectation& expected, Cell cell) {
    add_once(positions_, expected.position);
    add_once(pairs_, expected.pair);
    cell.expected = &expected;
    cells_[{expected.position, expected.pair}] = cell;
  };
  if (record.verdict) {
    for (const Expectation& expected : record.verdict->not_measured)
      put(expected, {expected.state == PairState::not_checked ? Mark::not_checked : Mark::not_measured, nullptr,
                     nullptr, nullptr});
    for (const Expectation& expected : record.verdict->left_out)
      put(expected, {Mark::left_out, nullptr, nullptr, nullptr});
    for (const Finding& finding : record.verdict->findings)
      put(finding.expected, {mark_of(finding), &finding, nullptr, &finding.indication});
    metal_last();
    return;
  }
  // Unfinished: what was measured so far, not judged. Later attempts overwrite earlier ones.
  for (const IndicationRow& row : record.indications) {
    if (!is_resistance(row.indication.quantity)) continue;
    const auto step =
        std::find_if(record.steps.begin(), record.steps.end(), [&](const StepRow& s) { return s.step == row.step; });
    if (step == record.steps.end() || step->kind != "measure" || step->pair_first.empty()) continue;
    const Pair pair(step->pair_first, step->pair_second);
    add_once(positions_, step->position);
    add_once(pairs_, pair);
    cells_[{step->position, pair}] = {Mark::unjudged, nullptr, nullptr, &row.indication};
  }
  metal_last();
}

std::string View::verdict_word() const {
  if (learned_headline(record_)) return "learned";
  if (!record_.verdict) return "unfinished";
  switch (record_.verdict->outcome) {
    case Outcome::pass: return "pass";
    case Outcome::fail: return "fail";
    case Outcome::undecided: return "undecided";
  }
  return {};
}

std::string View::title() const { return record_.verdict ? title_of(*record_.verdict) : verdict_word(); }

std::vector<ScopeRow> View::scope() const {
  std::vector<ScopeRow> rows;
  if (!record_.verdict) return rows;
  const Scope& scope = record_.verdict->scope;
  const bool any =
      std::any_of(scope_parts.begin(), scope_parts.end(), [&](ScopePart part) { return scope.asked(part); });
  for (const ScopePart part : scope_parts) {
    const ScopeItem& item = scope[part];
    if (!any || (part == ScopePart::stated && !scope.asked(part))) continue;
    const bool asked = item.decided != Decided::not_asked;
    rows.push_back(
        {to_string(part), asked ? to_string(item.decided) : "not asked for", asked ? item.reason : "", item.how});
  }
  return rows;
}

std::string View::headline() const {
  if (const auto learned = learned_headline(record_)) return *learned;
  if (!record_.verdict && is_trace(record_))
    return "Not finished: what was recorded so far stands below, and no verdict was reached.";
  if (!record_.verdict)
    return fmt::format(
        "Not finished: {} measured so far, nothing judged. Nothing here says that the part is good.",
        record_.indications.size() == 1 ? "1 reading" : fmt::format("{} readings", record_.indications.size()));
  if (std::string text = record_.verdict->headline; !text.empty()) {
    // The verdict's word stands above the headline already.
    const std::string word = title() + ": ";
    if (text.size() > word.size() && text.starts_with(word)) text.erase(0, word.size());
    if (text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
    return text;
  }
  switch (record_.verdict->outcome) {
    case Outcome::pass: return "Every reading is within its limits.";
    case Outcome::fail: return "At least one reading is outside its limits.";
    case Outcome::undecided: return "Not everything could be decided.";
  }
  return {};
}

std::string View::label(const std::string& position) const {
  if (profile_)
    if (const Position* known = profile_->position(position); known != nullptr && !known->label.empty())
      return known->label;
  return position;
}

std::optional<double> View::angle_deg(const std::string& position) const {
  if (!profile_) return std::nullopt;
  const Position* known = profile_->position(position);
  return known == nullptr ? std::nullopt : std::optional<double>(known->angle_deg);
}

std::string View::part_between(const Pair& pair) const {
  if (!profile_) return {};
  for (const Contact& contact : profile_->contacts)
    if (contact.between == pair) return contact.id + " contact";
  for (const Element& element : profile_->elements)
    if (element.between == pair) return element.id;
  return {};
}

std::string View::across(const Pair& pair) const {
  if (profile_ && profile_->powered) {
    if (profile_->powered->supply == pair) return "supply";
    for (const PoweredLoad& load : profile_->powered->loads)
      if (load.between == pair) return load.lamp ? load.id : "load: " + load.id;
  }
  return part_between(pair);
}

bool View::touches_exposed_metal(const Pair& pair) const {
  return profile_ && (profile_->is_exposed_metal(pair.first()) || profile_->is_exposed_metal(pair.second()));
}

Cell View::cell(const std::string& position, const Pair& pair) const {
  const auto found = cells_.find({position, pair});
  return found == cells_.end() ? Cell{} : found->second;
}

std::vector<Group> View::grouped(const std::vector<const Finding*>& findings) const {
  std::vector<Group> groups;
  const auto says_the_same = [](const Finding& a, const Finding& b) {
    return a.expected.pair == b.expected.pair && a.kind == b.kind && a.severity == b.severity &&
           a.outcome == b.outcome && a.witness == b.witness && a.indication.state == b.indication.state;
  };
  for (const Finding* finding : findings) {
    const auto same = std::find_if(groups.begin(), groups.end(),
                                   [&](const Group& group) { return says_the_same(group.first(), *finding); });
    if (same == groups.end())
      groups.push_back({{finding}});
    else
      same->findings.push_back(finding);
  }
  const auto order = [&](const Finding* finding) {
    return std::find(positions_.begin(), positions_.end(), finding->expected.position) - positions_.begin();
  };
  for (Group& group : groups)
    std::stable_sort(group.findings.begin(), group.findings.end(),
                     [&](const Finding* a, const Finding* b) { return order(a) < order(b); });
  return groups;
}

std::vector<Group> View::deviations() const {
  return record_.verdict ? grouped(record_.verdict->deviations()) : std::vector<Group>{};
}

std::vector<Group> View::undecided() const {
  std::vector<const Finding*> list;
  if (record_.verdict)
    for (const Finding& finding : record_.verdict->findings)
      if (finding.outcome == Outcome::undecided && !finding.kind) list.push_back(&finding);
  return grouped(list);
}

std::string View::told(const Group& group) const {
  const Finding& first = group.first();
  std::string text = first.sentence.empty() ? place_text(*this, first.expected) + " reads " + result_text(first) + "."
                                            : first.sentence;
  if (group.findings.size() == 1) return text;
  std::vector<std::string> elsewhere;
  for (const Finding* finding : group.findings) {
    if (finding == &first) continue;
    const std::string result = result_text(*finding);
    elsewhere.push_back(label(finding->expected.position) + (result == result_text(first) ? "" : " " + result));
  }
  return sentences({text, "The same at " + joined_with_and(elsewhere)});
}

std::string place_text(const View& view, const Expectation& expected) {
  return expected.pair.text() + " at " + view.label(expected.position);
}

std::vector<NamedFact> View::identity() const {
  const RecordHeader& h = record_.header;
  std::vector<NamedFact> list;
  list.push_back(fact("Part", h.part, "not stated"));
  list.push_back(fact("Serial number", h.serial, "not stated"));
  if (profile_) {
    std::string rating;
    if (profile_->rating.voltage_v > 0) rating = fmt::format("{:g} V", profile_->rating.voltage_v);
    if (profile_->rating.current_a > 0)
      rating += fmt::format("{}{:g} A", rating.empty() ? "" : ", ", profile_->rating.current_a);
    list.push_back(fact("Rating", rating, "not stated"));
  }
  const Claim& c = h.claim;
  const auto stated = [&](const char* name, const std::string& value) {
    if (!value.empty()) list.push_back({name, value, false});
  };
  stated("Work order or claim", c.order);
  stated("Date code", c.date_code);
  stated("Supplier", c.supplier);
  stated("Supplier's lot", c.lot);
  stated("Appliance model", c.appliance);
  stated("Appliance serial number", c.appliance_serial);
  stated("Customer's remark", c.remark);
  list.push_back(fact("Operator", h.operator_name, "not stated: nobody signs for this record"));
  list.push_back(fact("Begun", time_text(h.started, h), ""));
  list.push_back(fact("Ended", record_.ended ? time_text(*record_.ended, h) : "", "not ended"));
  list.push_back(fact("Profile", h.profile_title.empty() ? h.profile_id : h.profile_title + " (" + h.profile_id + ")",
                      "not stated"));
  list.push_back(fact("Profile's values", h.profile_values, "where they come from is not stated"));
  if (is_trace(record_)) {
    const auto conditions = trace_facts(record_);
    list.insert(list.end(), conditions.begin(), conditions.end());
    return list;
  }
  list.push_back(
      fact("Meter", h.meter_title.empty() ? h.meter_id : h.meter_title + " (" + h.meter_id + ")", "not stated"));
  list.push_back(fact("Meter's serial number", h.meter_serial, "not stated"));
  list.push_back(fact("Meter last calibrated", h.meter_calibrated, "unknown: these readings are traceable to nothing"));
  return list;
}

std::string View::position_to_show() const {
  if (is_trace(record_)) return record_.trace ? record_.trace->position : std::string{};
  if (!profile_) return {};
  const auto known = [&](const std::string& id) { return profile_->position(id) != nullptr; };
  if (record_.verdict) {
    for (const Finding* f : record_.verdict->deviations())
      if (known(f->expected.position)) return f->expected.position;
    for (const VoltageFinding* f : record_.verdict->voltage_deviations())
      if (known(f->expected.position)) return f->expected.position;
  }
  for (const Position& position : profile_->positions)
    for (const Contact& contact : profile_->contacts)
      if (contact.conducts_at(position.id)) return position.id;
  return profile_->positions.empty() ? std::string{} : profile_->positions.front().id;
}

std::vector<Pair> View::deviating_at(const std::string& position) const {
  std::vector<Pair> pairs;
  if (!record_.verdict) return pairs;
  for (const Finding* f : record_.verdict->deviations())
    if (f->expected.position == position) add_once(pairs, f->expected.pair);
  for (const VoltageFinding* f : record_.verdict->voltage_deviations())
    if (f->expected.position == position) add_once(pairs, f->expected.pair);
  return pairs;
}

std::vector<NamedFact> View::facts() const {
  const RecordHeader& h = record_.header;
  std::vector<NamedFact> list = identity();
  if (!is_trace(record_)) list.push_back(fact("Port", h.port, "not stated"));
  if (is_drop(record_)) list.push_back(fact("Known current", drop_current_text(record_), "not stated"));
  if (facts_of(h.kind).has_leads)
    list.push_back({"Leads, probes held together",
                    "before " + lead_text(record_.leads_before) + ", after " + lead_text(record_.leads_after),
                    !record_.leads_before || !record_.leads_after});
  if (record_.verdict && record_.verdict->has_powered_part()) {
    std::vector<std::string> supply;
    for (const VoltageFinding& f : record_.verdict->supply)
      supply.push_back((supply.empty() ? "at the start " : "at the end ") + result_text(f));
    list.push_back({"Supply", supply.empty() ? "not read" : joined_with_and(supply), supply.size() < 2});
  }
  const std::string rule = h.rule == "guarded"  ? "guarded acceptance (JCGM 106): the guard band is U on both sides"
                           : h.rule == "simple" ? "simple acceptance (JCGM 106): no guard band"
                                                : h.rule;
  list.push_back(fact("Decision rule", is_learning(record_) ? "nothing is judged" : rule, "not stated"));
  if (!is_trace(record_))
    list.push_back(fact("Plan",
                        is_drop(record_) ? "the millivolt drop of the contacts closed at one position"
                        : h.plan.empty() ? "full: every pair at every position"
                        : h.plan == "short"
                            ? "short: the fewest readings that detect every single fault"
                            : h.plan + ": the most telling reading next, until the verdict is beyond doubt",
                        ""));
  list.push_back(fact("Uncertainty", fmt::format("U, expanded with coverage factor k = {:g} (JCGM 100)", h.k), ""));
  list.push_back(fact("Probes and knob moved by", h.hands, "not stated"));
  list.push_back(fact("Record", h.id, "not stored"));
  list.push_back(fact("Written by", h.tool_version.empty() ? "" : "switchwright " + h.tool_version, "not stated"));
  return list;
}

std::vector<Happening> View::happenings() const {
  std::vector<Happening> list;
  for (const Acknowledgement& given : record_.acknowledgements)
    list.push_back({given.at, "acknowledged: " + given.what,
                    fmt::format("\"{}\" {}{}", given.text,
                                given.who.empty() ? "(the record does not say by whom)" : "by " + given.who,
                                given.how.empty() ? "" : ", " + given.how)});
  for (const StepRow& step : record_.steps) {
    if (step.kind == "measure" || step.kind == "voltage" || step.kind == "leads") continue;
    std::vector<std::string> details;
    if (!step.pair_first.empty()) details.push_back(step.pair_first + "-" + step.pair_second);
    if (!step.position.empty()) details.push_back("at " + label(step.position));
    for (const IndicationRow& measured : record_.indications)
      if (measured.step == step.step) details.push_back(shown_text(measured.indication));
    list.push_back({step.at, spaced(step.kind), fmt::format("{}", fmt::join(details, ", "))});
  }
  for (const EventRow& event : record_.events)
    if (event.kind != note_event && event.kind != attachment_event)
      list.push_back({event.at, spaced(event.kind), event.text});
  std::stable_sort(list.begin(), list.end(), [](const Happening& a, const Happening& b) { return a.at < b.at; });
  return list;
}

std::vector<std::string> View::cautions() const {
  if (is_trace(record_)) return trace_cautions();
  return {
      "Local codes, the appliance maker's instructions and licensed practice come first. This report "
      "replaces none of "
      "them.",
      "Mains voltage kills. Resistance is measured only on a part that is disconnected and proven dead: "
      "prove the meter "
      "on a known source, test for absence of voltage, prove the meter again.",
      "A continuity reading proves no isolation. \"Open\" here means no continuity at the meter's test "
      "voltage, not that "
      "the contact withstands mains voltage.",
      "A control is never the means of disconnection: unplug, or lock out the supply, before anybody touches "
      "the wiring.",
      "What cycles under power is not proven by resistance readings at rest. A powered trace is for "
      "qualified persons: "
      "isolated and residual-current protected bench supply, fused leads, a meter and leads of a suitable "
      "measurement "
      "category, cover on.",
      "A pass covers what was measured, as it was measured, on this one part. It says nothing about life, "
      "load or heat.",
  };
}

std::vector<std::string> View::how_to_check() const {
  return {
      "Everything measured was written in batches. Each batch is one line of JSON in canonical form (RFC "
      "8785) and "
      "names the SHA-256 of the batch before it; the head above is the SHA-256 of the last one.",
      "Ask for the evidence folder (switchwright bag ID -o DIR): a BagIt bag (RFC 8493). In it, "
      "sha256sum -c manifest-sha256.txt checks every file, and tail -n 1 data/chain.jsonl | tr -d '\\n' | "
      "sha256sum "
      "gives the head.",
      "If the head differs from the one printed here, what is stored is not what this report was made from.",
  };
}

std::vector<LeftOutRow> left_out_rows(const View& view, const Verdict& verdict) {
  std::vector<LeftOutRow> rows;
  for (const Expectation& e : verdict.left_out) {
    const auto row = std::find_if(rows.begin(), rows.end(), [&](const LeftOutRow& r) { return r.pair == e.pair; });
    if (row == rows.end())
      rows.push_back({e.pair, {view.label(e.position)}});
    else
      row->positions.push_back(view.label(e.position));
  }
  return rows;
}

std::string word_for(Mark mark) {
  switch (mark) {
    case Mark::pass: return "pass";
    case Mark::fail: return "FAIL";
    case Mark::not_sound: return "not sound";
    case Mark::undecided: return "undecided";
    case Mark::not_measured: return "not measured";
    case Mark::left_out: return "left out";
    case Mark::not_checked: return "not checked";
    case Mark::unjudged: return "not judged";
    case Mark::none: return "";
  }
  return {};
}

}  // namespace switchwright
