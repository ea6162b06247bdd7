// A guided session that runs on a loop which goes on after it: the recorder listens, time goes in, and the end is told.
// Whoever shows it and asks the person (a terminal, the page) subscribes to the same stream and calls the session.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/bench/recorder.hpp"
#include "switchwright/bench/session.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

/// Thread rule: lives on the loop's thread. All references must outlive it; the recorder hears an event before every
/// listener that subscribes after this was made.
class RunningSession {
 public:
  RunningSession(Loop& loop, Store& store, EventStream& events, QualifySession& session, const std::string& record_id);
  ~RunningSession();
  RunningSession(const RunningSession&) = delete;
  RunningSession& operator=(const RunningSession&) = delete;

  /// @param earlier what is gone on with. @param link_so_far what the link said before there was a session.
  /// @param pulse called ten times a second; may be empty. @param ended called once, from the loop.
  void start(const std::optional<Record>& earlier, std::vector<LinkChange> link_so_far, std::function<void()> pulse,
             std::function<void()> ended);
  /// Writes what is left. @throws Error(store), naming the rescue file that holds what is not written.
  void close();

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

/// What a record begins with that is the same for every kind: meter, profile, port, hands, now.
/// @param hands "person", "simulator", "scanner". @param simulated measured on the simulator, whoever the hands are.
RecordHeader header_of(RecordKind kind, const Profile& profile, const MeterDefinition& meter, const std::string& port,
                       const std::string& hands, bool simulated);

}  // namespace switchwright
