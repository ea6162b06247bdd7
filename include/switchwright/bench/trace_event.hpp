// What happens during a trace, as one stream of events: the store, the terminal views and --json listen to
// it.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "switchwright/analysis/trace_analysis.hpp"
#include "switchwright/cycle/cycle.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright {

struct TraceOpened {
  RecordHeader header;
  TraceSetup setup;
  std::vector<TraceChannel> channels;
  std::vector<std::string> warnings;
};
struct TraceAcknowledged {
  Acknowledgement acknowledgement;
};
/// A channel's quantity is known: its first sample came.
struct ChannelKnown {
  TraceChannel channel;
};
struct SampleTaken {
  SampleRow sample;
  std::string name;
  Quantity quantity = Quantity::voltage_ac;
};
/// Provisional: the figures of the record come from the stored samples.
struct EdgeSeen {
  int channel = 0;
  std::string name;
  Edge edge;
};
struct CycleSeen {
  int channel = 0;
  std::string name;
  Cycle cycle;
};
/// The levels were mistaken at first: forget this channel's edges and cycles, they come again.
struct Reconsidered {
  int channel = 0;
  std::string name;
};
struct TraceLink {
  int channel = 0;
  std::string name;
  LinkChange change;
};
/// `kind` is a short word for the record ("refused", "store-failed", ...).
struct TraceNote {
  std::string kind;
  std::string text;
};
/// No more samples will come.
struct TraceEnded {
  std::string kind;  ///< "time", "cycles", "operator", "meters"
  std::string text;
};
/// The figures of the record, from the stored samples.
struct TraceJudged {
  std::string record_id;
  std::string position;
  const TraceAnalysis* analysis = nullptr;  ///< valid during the call
  std::optional<Life> life;
  std::vector<WorkResult> results;
  Verdict verdict;
};

using TraceEvent = std::variant<TraceOpened, TraceAcknowledged, ChannelKnown, SampleTaken, EdgeSeen, CycleSeen,
                                Reconsidered, TraceLink, TraceNote, TraceEnded, TraceJudged>;

/// Thread rule: emit and subscribe on the loop's thread. Listeners are called in the order they subscribed.
class TraceStream {
 public:
  using Listener = std::function<void(const TraceEvent&, Instant)>;
  void subscribe(Listener listener) { listeners_.push_back(std::move(listener)); }
  void emit(const TraceEvent& event, Instant at) {
    for (const Listener& listener : listeners_) listener(event, at);
  }

 private:
  std::vector<Listener> listeners_;
};

/// JSON objects, one per line, each with a "type"; a judged trace is several: a summary per channel, then the
/// verdict. No line end after the last.
std::string to_json(const TraceEvent& event, Instant at);

}  // namespace switchwright
