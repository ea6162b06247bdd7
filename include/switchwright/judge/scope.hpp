// What a verdict covers. A pass is a promise, and its scope says what is promised: each question that somebody may have
// about a part is decided, not decided (why, and how to decide it), or was not asked by this work. The outcome and the
// headline of every record, whatever its kind, follow from its scope by conclude() and by nothing else.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "switchwright/judge/outcome.hpp"

namespace switchwright {

enum class ScopePart {
  continuity,  ///< what must be closed conducts, what must be open does not, elements are in their bands
  soundness,   ///< closed contacts lose no more volts than the part's sheet allows
  voltages,    ///< every pair under power
  timing,      ///< on and off times of what cycles
  inspection,  ///< the profile's questions to eye and hand
  stated,      ///< results of other instruments that the operator entered (insulation, earth bond ...)
};
inline constexpr std::array scope_parts{ScopePart::continuity, ScopePart::soundness,  ScopePart::voltages,
                                        ScopePart::timing,     ScopePart::inspection, ScopePart::stated};
using ScopeParts = std::vector<ScopePart>;

/// "continuity", "soundness", ...: the spelling of records, JSON and --require.
std::string to_string(ScopePart part);
/// "continuity,timing", blanks allowed, each once. @throws Error(usage) for a word that is none, with near names.
ScopeParts parse_scope_parts(const std::string& text);

enum class Decided { pass, fail, undecided, not_asked };
std::string to_string(Decided decided);  ///< "pass", "fail", "undecided", "not-asked"
Decided as_decided(Outcome outcome);

struct ScopeItem {
  Decided decided = Decided::not_asked;
  std::string reason;  ///< a clause: why it is not pass; for a pass what it rests on ("all 60 readings are inside ...")
  std::string how;     ///< a sentence: how to decide what is undecided or was not asked; may be empty
  friend bool operator==(const ScopeItem&, const ScopeItem&) = default;
};

/// One item for every part. As made, nothing is asked, and how to have each part decided is said.
class Scope {
 public:
  Scope();
  ScopeItem& operator[](ScopePart part) { return items_[static_cast<std::size_t>(part)]; }
  const ScopeItem& operator[](ScopePart part) const { return items_[static_cast<std::size_t>(part)]; }
  bool asked(ScopePart part) const { return (*this)[part].decided != Decided::not_asked; }

  void passes(ScopePart part, std::string rests_on = {}) { (*this)[part] = {Decided::pass, std::move(rests_on), {}}; }
  void fails(ScopePart part, std::string reason) { (*this)[part] = {Decided::fail, std::move(reason), {}}; }
  /// Absent `how`: the part's own way is kept.
  void undecided(ScopePart part, std::string reason, std::string how = {});
  /// Work that ended early decides nothing that it asked, unless it failed already.
  void interrupted(const std::string& reason);

  friend bool operator==(const Scope&, const Scope&) = default;

 private:
  std::array<ScopeItem, scope_parts.size()> items_;
};

struct Conclusion {
  Outcome outcome = Outcome::undecided;
  std::string title;     ///< "Pass for continuity, soundness not decided"; "Fail"; "Undecided"
  std::string headline;  ///< the title, a colon, and what it rests on, as one sentence
};

/// The rule, in this order:
///   fail       a part of the scope fails
///   undecided  a part that was asked is undecided (beside continuity soundness alone may stay open: most meters on a
///              bench cannot resolve milliohms), or a required part does not pass, or nothing was asked
///   pass       else; the title names what passes and that soundness is open
Conclusion conclude(const Scope& scope, const ScopeParts& required = {});

}  // namespace switchwright
