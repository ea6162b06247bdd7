#include "switchwright/judge/scope.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

/// How somebody has a part decided that this work did not ask.
const char* way_to_decide(ScopePart part) {
  switch (part) {
    case ScopePart::continuity: return "Measure every pair at every position: switchwright qualify.";
    case ScopePart::soundness:
      return "Measure the millivolt drop under a known current: switchwright drop; or measure with four wires.";
    case ScopePart::voltages: return "Read the voltages under power: switchwright qualify --powered.";
    case ScopePart::timing: return "Trace the cycling under power: switchwright trace.";
    case ScopePart::inspection: return "Answer the profile's questions: switchwright qualify asks them.";
    case ScopePart::stated: return "Enter what another instrument showed: switchwright qualify --stated.";
  }
  return "";
}

/// Eyes and other instruments stand behind what was measured: they are named after it, not in the title.
bool in_title(ScopePart part) { return part != ScopePart::inspection && part != ScopePart::stated; }

std::string words(ScopePart part) { return part == ScopePart::stated ? "the stated results" : to_string(part); }

/// Soundness is what most meters on a bench cannot resolve: beside continuity it may stay open.
bool may_stay_open(const Scope& scope, ScopePart part) {
  return part == ScopePart::soundness && scope.asked(ScopePart::continuity);
}

std::string title_of_pass(const Scope& scope) {
  std::vector<std::string> passed, further;
  for (const ScopePart part : scope_parts)
    if (scope[part].decided == Decided::pass) (in_title(part) ? passed : further).push_back(words(part));
  std::string title = "Pass for " + joined_with_and(passed.empty() ? further : passed);
  if (scope[ScopePart::soundness].decided == Decided::undecided) title += ", soundness not decided";
  return title;
}

/// One sentence after the other, the first to stand behind a colon.
std::string pass_rests_on(const Scope& scope) {
  std::vector<std::string> reasons, further;
  for (const ScopePart part : scope_parts) {
    if (scope[part].decided != Decided::pass) continue;
    // What continuity rests on tells of soundness too: both are read off the same pairs.
    const bool told = part == ScopePart::soundness && scope.asked(ScopePart::continuity);
    if (!scope[part].reason.empty() && !told) reasons.push_back(scope[part].reason);
    if (!in_title(part) && scope[part].reason.empty()) further.push_back(words(part));
  }
  if (!further.empty()) reasons.push_back(joined_with_and(further) + " passed too");
  for (std::size_t i = 1; i < reasons.size(); ++i) reasons[i] = wording::capitalised(std::move(reasons[i]));
  return sentences(reasons);
}

}  // namespace

std::string to_string(ScopePart part) {
  switch (part) {
    case ScopePart::continuity: return "continuity";
    case ScopePart::soundness: return "soundness";
    case ScopePart::voltages: return "voltages";
    case ScopePart::timing: return "timing";
    case ScopePart::inspection: return "inspection";
    case ScopePart::stated: return "stated";
  }
  return {};
}

std::string to_string(Decided decided) {
  switch (decided) {
    case Decided::pass: return "pass";
    case Decided::fail: return "fail";
    case Decided::undecided: return "undecided";
    case Decided::not_asked: return "not-asked";
  }
  return "undecided";
}

Decided as_decided(Outcome outcome) {
  return outcome == Outcome::pass ? Decided::pass : outcome == Outcome::fail ? Decided::fail : Decided::undecided;
}

ScopeParts parse_scope_parts(const std::string& text) {
  std::vector<std::string> known;
  for (const ScopePart part : scope_parts) known.push_back(to_string(part));
  ScopeParts parts;
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t to = std::min(text.find(',', from), text.size());
    std::string word = text.substr(from, to - from);
    word.erase(0, std::min(word.find_first_not_of(" \t"), word.size()));
    word.erase(word.find_last_not_of(" \t") + 1);
    from = to + 1;
    const auto found = std::find(known.begin(), known.end(), word);
    if (found == known.end()) {
      const std::string near = suggestion(word, known);
      throw Error(ErrorKind::usage, "\"" + terminal_safe(word) + "\" is no part of a verdict's scope", "--require",
                  near.empty() ? "choose from " + joined_with_and(known) : near);
    }
    const ScopePart part = scope_parts[static_cast<std::size_t>(found - known.begin())];
    if (std::find(parts.begin(), parts.end(), part) == parts.end()) parts.push_back(part);
  }
  return parts;
}

Scope::Scope() {
  for (const ScopePart part : scope_parts)
    (*this)[part] = {Decided::not_asked, "not asked for by this work", way_to_decide(part)};
}

void Scope::undecided(ScopePart part, std::string reason, std::string how) {
  (*this)[part] = {Decided::undecided, std::move(reason), how.empty() ? way_to_decide(part) : std::move(how)};
}

void Scope::interrupted(const std::string& reason) {
  for (const ScopePart part : scope_parts)
    if (asked(part) && (*this)[part].decided != Decided::fail) undecided(part, reason);
}

Conclusion conclude(const Scope& scope, const ScopeParts& required) {
  std::vector<std::string> failed, open;
  bool any_asked = false;
  for (const ScopePart part : scope_parts) {
    const ScopeItem& item = scope[part];
    const bool is_required = std::find(required.begin(), required.end(), part) != required.end();
    any_asked |= scope.asked(part);
    if (item.decided == Decided::fail) failed.push_back(item.reason.empty() ? words(part) + " failed" : item.reason);
    const bool undecided = item.decided == Decided::undecided && (is_required || !may_stay_open(scope, part));
    const bool missing = item.decided == Decided::not_asked && is_required;
    if (undecided || missing)
      open.push_back(
          (is_required ? words(part) + (part == ScopePart::stated ? " are required: " : " is required: ") : "") +
          (item.reason.empty() ? words(part) + " is not decided" : item.reason));
  }
  if (!failed.empty()) return {Outcome::fail, "Fail", "Fail: " + full_stop(fmt::format("{}", fmt::join(failed, "; ")))};
  if (!any_asked && open.empty()) open.push_back("nothing was measured");
  if (!open.empty())
    return {Outcome::undecided, "Undecided", "Undecided: " + full_stop(fmt::format("{}", fmt::join(open, "; ")))};
  const std::string title = title_of_pass(scope);
  const std::string rests_on = pass_rests_on(scope);
  return {Outcome::pass, title, full_stop(rests_on.empty() ? title : title + ": " + rests_on)};
}

}  // namespace switchwright
