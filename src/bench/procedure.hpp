// One part of the work at the bench: which steps it has, which readings stop it, what may be kept, and what the whole
// says about the part. The session leads through the steps and knows nothing of ohms and volts; a procedure knows nothing
// of time, links and keys.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/bench/event.hpp"
#include "switchwright/bench/session.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// Why work cannot go on as it is.
struct Trouble {
  enum class Then {
    stay,   ///< say so; the step is still to be done
    stop,   ///< the session ends; the record can be resumed
    close,  ///< the session ends with a verdict: the trouble is a result of its own
  };
  Then then = Then::stay;
  std::string kind;  ///< of the Note or of Stopped
  std::string text;
};

/// Thread rule: one owner, one thread.
class Procedure {
 public:
  virtual ~Procedure() = default;

  /// The steps, numbered from `first_number`.
  virtual std::vector<Step> plan(int first_number) const = 0;
  /// What must be known before the work starts.
  virtual std::vector<std::string> warnings() const = 0;

  /// What the person must know about the plan; may be empty.
  virtual std::string opening() const { return {}; }
  /// At most so many steps beyond plan() may still be wanted.
  virtual int steps_to_come() const { return 0; }
  /// A step that a plan made as the work goes wants before this one.
  virtual std::optional<Step> wanted_before(const Step&) { return std::nullopt; }
  virtual void skipped(const Step&) {}

  /// What a step needs before the next one comes.
  enum class Wants { reading, acknowledgement, answer };
  virtual Wants wants(const Step& step) const;
  /// Why a step cannot be skipped, in one sentence; empty when it can, with a reason.
  virtual std::string cannot_skip(const Step& step) const;
  /// Whether a person can state that the probes touch, and that settles something.
  virtual bool contact_can_be_stated(const Step& step) const;
  /// What a reading that needs such a statement also looks like, and which key to press.
  virtual std::string contact_words(const Step& step) const;
  /// Whether the probes stay where they are from the one step to the other.
  virtual bool same_placement(const Step& a, const Step& b) const;
  /// Who has acknowledged a step beforehand, by an option.
  virtual std::optional<std::string> acknowledged_by(const Step& step) const = 0;
  /// An acknowledgement that the work can go on without: unattended it is passed over when nobody has given it.
  virtual bool acknowledgement_is_optional(const Step&) const { return false; }
  virtual void acknowledged(const Step&, const std::string& who) { (void)who; }

  /// Takes over what an unfinished record holds; returns how many readings that is.
  virtual std::size_t resume(const Record& earlier) = 0;
  virtual bool done_already(const Step& step) const = 0;

  /// A step is shown: the probes go where it says.
  virtual void shown(const Step&) {}
  /// Which placement the probes are in, counted through the record; 0: not counted.
  virtual int placement() const { return 0; }
  /// A probe slipped: what was read in this placement no longer counts.
  virtual void forget_placement(const Step&) {}

  /// Every reading that comes while a step stands, also before it counts.
  virtual void seen(const Step&, const Reading&) {}
  /// A reading that stops the work at once, whatever its quantity.
  virtual std::optional<Trouble> danger(const Step&, const Reading&) const { return std::nullopt; }
  /// Why a settled indication may not be kept.
  virtual std::optional<Trouble> objection(const Step& step, const Indication& indication) = 0;
  virtual bool needs_contact_statement(const Step&, const Indication&) const { return false; }
  /// How closely readings of this step must agree, given how the session would have it.
  virtual SettleRule settle_rule(const Step&, const SettleRule& usual) const { return usual; }
  /// Volts agree when they do within a tenth of the limit for dead, or within a share of themselves: what is decided
  /// about them needs no more, and mains never stands still to two digits of a fine display.
  static SettleRule settling_volts(const Step& step, const SettleRule& usual, double dead_v, double share);
  /// Puts into the event what would be found if this were confirmed.
  virtual void look_ahead(const Step& step, Settled& settled) const = 0;
  /// Keeps an indication and puts into the event what is found. Returns what a person should know about it.
  virtual std::optional<Note> keep(Kept& kept) = 0;
  /// A visual question is answered.
  virtual InspectionFinding answered(const Step&, std::optional<bool>, const std::string&) { return {}; }

  virtual Verdict verdict() const = 0;
  virtual Leads leads() const { return {}; }
  /// What the hands must still do when the work ends here, and the words for it.
  virtual std::optional<Arrangement> make_safe() const { return std::nullopt; }
};

struct ProcedureParts {
  const Profile& profile;
  const MeterDefinition& meter;
  const SessionSettings& settings;
  bool unattended;       ///< nobody is there to put a trouble right
  bool contact_is_sure;  ///< the hands state contact by construction
  int& placements;       ///< how many placements of the probes the record has so far
};

std::unique_ptr<Procedure> continuity_procedure(const ProcedureParts& parts);
/// @throws Error(usage) when the profile has no [powered] part.
std::unique_ptr<Procedure> powered_procedure(const ProcedureParts& parts);
/// settings.drop must be there. @throws Error(usage) when this meter cannot decide with that current.
std::unique_ptr<Procedure> drop_procedure(const ProcedureParts& parts);

}  // namespace switchwright
