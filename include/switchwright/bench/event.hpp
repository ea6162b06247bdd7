// What happens at the bench, as one stream of events. The store, the terminal view, the page and --json listen to
// this stream and know nothing of each other.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "switchwright/bench/drop.hpp"
#include "switchwright/core/reading.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/judge/finding.hpp"
#include "switchwright/judge/indication.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/record/record.hpp"
#include "switchwright/record/step_kind.hpp"

namespace switchwright {

struct Step {
  int number = 0;  ///< from 1, in the order planned
  StepKind kind = StepKind::measure;
  Arrangement arrangement;
  std::string instruction;                       ///< what to do, in plain words
  std::optional<Expectation> expected;           ///< measure
  std::optional<VoltageExpectation> expected_v;  ///< voltage
  /// Not of the meter: what another display shows is typed, or told by hands that see it.
  std::optional<Quantity> on_another_display = std::nullopt;
  std::string acknowledges;                    ///< acknowledge: "de-energised" or "energised"
  std::optional<InspectionQuestion> question;  ///< inspect
  int visit = 1;                               ///< measure: which time the plan comes to this place
  bool last_of_placement = false;              ///< measure: the probes move after this step; voltage: the knob turns

  /// What is to be read.
  Quantity reads() const { return on_another_display.value_or(arrangement.dial); }
};

/// The session opens: what will be done with what, and what cannot be decided with this meter.
struct SessionOpened {
  RecordHeader header;
  int steps = 0;
  std::vector<std::string> warnings;
};
struct StepShown {
  Step step;
  int of = 0;
  int attempt = 1;
  int placement = 0;  ///< of the probes, counted through the record; 0 where they are on no pair
};
struct ReadingTaken {
  int step = 0;
  Reading reading;
  std::string refused;  ///< why it cannot be used, with the next step; empty when it can
};
struct Settled {
  int step = 0;
  int attempt = 1;
  Indication indication;
  bool needs_contact_statement =
      false;                       ///< open at every position of this placement so far: only a statement proves contact
  std::optional<Finding> outlook;  ///< measure: the finding if this is confirmed
  std::optional<VoltageFinding> voltage_outlook;  ///< voltage and the supply: the same
};
/// A settled reading moved again before it was confirmed.
struct Unsettled {
  int step = 0;
};
/// A settled indication is confirmed and kept.
struct Kept {
  Step step;
  int attempt = 1;
  Indication indication;
  bool contact_stated = false;
  std::optional<Finding> finding;  ///< measure: judged with what is known now; the verdict judges again with the leads
  std::optional<VoltageFinding> voltage;  ///< voltage and the supply, judged
  std::optional<ContactDrop> drop;        ///< drop: once the contact has all its readings
  int placement = 0;
};
struct Acknowledged {
  Acknowledgement acknowledgement;
};
struct Answered {
  int step = 0;
  InspectionFinding finding;
};
/// What another instrument showed, as somebody entered it.
struct StatedTaken {
  StatedResult result;
};
struct Skipped {
  Step step;
  std::string reason;
};
struct LinkChanged {
  LinkChange change;
};
/// Something a person should know. `kind` is a short word for the record ("leads-high", "store-failed", ...).
struct Note {
  std::string kind;
  std::string text;
  int placement = 0;  ///< "reseated": which one is given up
};
struct VerdictReached {
  std::string record_id;
  Verdict verdict;
  Leads leads;
};
/// Everything is read and there is nothing to judge it by (a part that is being learned).
struct Completed {
  std::string record_id;
  int readings = 0;
};
/// The session ended without going through: stopped by the operator, volts present, meter failed.
struct Stopped {
  std::string kind;  ///< "operator", "volts-present", "supply", "meter", "hands"
  std::string text;
};

using Event = std::variant<SessionOpened, StepShown, ReadingTaken, Settled, Unsettled, Kept, Acknowledged, Answered,
                           StatedTaken, Skipped, LinkChanged, Note, VerdictReached, Completed, Stopped>;

/// Thread rule: emit and subscribe on the loop's thread. Listeners are called in the order they subscribed.
class EventStream {
 public:
  using Listener = std::function<void(const Event&, Instant)>;
  void subscribe(Listener listener) { listeners_.push_back(std::move(listener)); }
  void emit(const Event& event, Instant at) {
    for (const Listener& listener : listeners_) listener(event, at);
  }

 private:
  std::vector<Listener> listeners_;
};

/// One JSON object on one line, with a "type"; SI units in the names. The same words for --json and the page.
std::string to_json(const Event& event, Instant at);

}  // namespace switchwright
