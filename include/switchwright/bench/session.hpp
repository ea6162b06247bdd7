// The guided qualification as a state machine: readings, link changes, the operator's keys and the passing of time go
// in; events come out. It waits for nothing itself, so a session of half an hour is tested in milliseconds. What the steps
// are and what is to be made of a reading is the business of one procedure per part of the work: continuity, and under
// power.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/bench/event.hpp"
#include "switchwright/bench/measure_plan.hpp"
#include "switchwright/core/clock.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/judge/settle.hpp"
#include "switchwright/profile/route.hpp"

namespace switchwright {

class Procedure;

/// Whether voltages are read too.
enum class PoweredPart {
  none,
  after_continuity,  ///< and only when the part has passed without power
  only,
};

/// A finished record of the same part that passed without power; see bench/cold_record.hpp.
struct ColdProof {
  std::string record;  ///< its id
  std::string words;   ///< one sentence for the report
};

/// Several units by one person at one bench without a break: what was acknowledged and proven once is not done again for
/// each of them. Parts that were never connected to a supply only: whatever was in use is proven dead by itself.
struct Sitting {
  std::string who;            ///< acknowledged
  bool meter_proven = false;  ///< in this sitting, on known sources
  std::string proven_words;   ///< one sentence for the record
  std::string rule;           ///< one sentence: why absence of voltage is stated here and not measured
  /// The leads as the readings of this record began with them: read after the unit before, or before an interruption.
  std::optional<Indication> leads;
  bool leads_stand = false;  ///< no break since: they need not be read again before this unit
};

struct SessionSettings {
  std::string plan;                            ///< "full" (also when empty), "short", "adaptive"
  RouteCost cost;                              ///< what the moves of these hands cost; the order follows from it
  std::shared_ptr<const Knowledge> knowledge;  ///< absent: readings are judged but not explained
  JudgeSettings judge;
  SettleRule settle;
  double get_ready_s = 1.0;  ///< a person's time to move: readings this soon after an instruction do not count
  /// Hands that confirm themselves answer when the arrangement stands; readings that were still on the line then arrive
  /// within this time and do not count.
  double drain_s = 0.03;
  double patience_s = 30.0;      ///< hands that confirm themselves: no settled reading for this long is a failure
  double volts_present_v = 1.0;  ///< above this the part is not dead
  std::optional<std::string> acknowledged_by;  ///< --acknowledge de-energised was given, by this operator
  std::string acknowledged_how;                ///< where and when, for the record; empty: by the option
  std::map<std::string, std::string>
      absence_stated;  ///< other acknowledgements that were given: what ("no-dc-voltage"), by whom
  /// What every reader of the record must know about the meter (calibration overdue, corrections applied): noted at the
  /// start and a remark of the verdict.
  std::vector<std::string> meter_remarks;
  PoweredPart powered = PoweredPart::none;
  bool live_moves = false;        ///< under power probes move with the supply on; else it is switched off for each move
  std::optional<ColdProof> cold;  ///< for PoweredPart::only, and required there: the record that passed without power
  std::optional<std::string> energised_by;  ///< --acknowledge energised was given, by this operator
  /// Nothing to judge by (a part that is being learned): no finding, no verdict; the session ends with Completed, and
  /// nothing can be skipped.
  bool measure_only = false;
  std::optional<DropTask> drop;      ///< the millivolt drop of closed contacts instead of everything else
  std::vector<StatedResult> stated;  ///< results of other instruments; those of an earlier sitting come with resume()
  std::optional<Sitting> sitting;    ///< of the units of a lot
  std::optional<bool>
      inspection;  ///< --inspected yes/no for all questions; absent: asked, or left unanswered unattended
};

class QualifySession {
 public:
  /// All references must outlive the session. `select` tells the meter which quantity is wanted next.
  /// @throws Error(usage) when voltages are to be read and the profile has no [powered] part.
  QualifySession(const Profile& profile, const MeterDefinition& meter, SessionSettings settings, RecordHeader header,
                 const Clock& clock, Hands& hands, std::function<void(Quantity)> select, EventStream& events);
  ~QualifySession();
  QualifySession(const QualifySession&) = delete;
  QualifySession& operator=(const QualifySession&) = delete;

  /// Takes over what an unfinished record holds; call before start(). Safety steps and leads are done again.
  void resume(const Record& earlier);
  void start();

  // What comes in.
  void on_reading(const Reading& reading);
  void on_link(const LinkChange& change);
  void on_tick();  ///< call a few times a second

  // What the operator can do; each returns nothing and may emit a Note that says why it cannot be done now.
  void acknowledge(const std::string& who, const std::string& how);
  void answer(std::optional<bool> yes, const std::string& note = {});
  void confirm();
  void state_contact();  ///< confirm, stating that both probes touch
  void redo();           ///< measure this step again, probes left in place
  void reseat();         ///< a probe slipped: start this placement again
  void back();
  void skip(const std::string& reason);
  void stop();  ///< by the operator; what was measured is kept and can be resumed

  bool completed() const { return completed_; }  ///< measure_only: everything is read
  bool ended() const { return state_ == State::ended; }
  const std::optional<Verdict>& verdict() const { return verdict_; }
  const std::string& stopped_kind() const { return stopped_kind_; }
  const std::string& stopped_text() const { return stopped_text_; }
  const Step* current() const;
  /// A person types what the display shows: this text is the reading. A text that cannot be one is answered with a Note.
  void type_reading(const std::string& text);
  /// At this step: the meter has no cable, or it is another display that is read.
  bool readings_are_typed() const;

 private:
  enum class State { not_started, arranging, watching, asking, ended };

  /// One part of the work and where its steps end.
  struct Part {
    std::unique_ptr<Procedure> procedure;
    std::size_t end = 0;
  };

  void emit(const Event& event) { events_.emit(event, clock_.now()); }
  void note(const std::string& kind, const std::string& text) { emit(Note{kind, text}); }
  void add(std::unique_ptr<Procedure> procedure);
  std::size_t part_of(std::size_t index) const;
  int placement_of(const Step& step) const;
  Procedure& procedure() const { return *parts_[part_of(index_)].procedure; }
  bool may_begin(std::size_t part);
  void insert_what_is_wanted(std::size_t index);
  void show(std::size_t index);
  void arranged(std::size_t index, int generation);
  void take(const Reading& reading);
  void take_from_hands();
  void next();
  void go_to(std::size_t index);
  void leave_out_from(std::size_t index);
  int steps_expected() const;
  std::string why_nothing_settled() const;
  void settled(const Indication& indication);
  void keep(bool contact_stated);
  Verdict verdict_so_far() const;
  std::vector<StatedFinding> stated_findings() const;
  Leads leads() const;
  void conclude(Verdict verdict);
  void end(const std::string& kind, const std::string& text, bool with_verdict = false);

  const Profile& profile_;
  const MeterDefinition& meter_;
  SessionSettings settings_;
  RecordHeader header_;
  const Clock& clock_;
  Hands& hands_;
  std::function<void(Quantity)> select_;
  EventStream& events_;

  std::vector<Part> parts_;
  int placements_ = 0;  ///< of the probes so far, in all sittings
  std::vector<Step> steps_;
  int steps_at_most_ = 0;
  int numbered_before_ = 0;  ///< the highest step number of an earlier sitting
  std::size_t index_ = 0;
  State state_ = State::not_started;
  int generation_ = 0;  ///< counts arrangements asked for; an answer to an older one is ignored
  std::map<int, int> attempts_;
  std::set<std::pair<std::string, Pair>> failing_;  ///< places whose last reading fails
  std::optional<Settler> settler_;
  std::optional<Indication> pending_;
  Instant watching_since_;
  Monotonic waiting_since_{};
  std::string last_trouble_;
  std::optional<Reading> last_usable_;  ///< of this step
  SettleRule settle_rule_;              ///< of this step
  std::size_t resumed_ = 0;
  std::vector<StatedResult> stated_before_;  ///< of an earlier sitting
  bool completed_ = false;

  std::optional<Verdict> verdict_;
  std::string stopped_kind_;
  std::string stopped_text_;
};

}  // namespace switchwright
