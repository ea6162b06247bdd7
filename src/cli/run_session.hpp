// A session on its loop from start to end: the recorder and the view listen, keys, signals and time go in.
// Every guided command runs the same way; what it measures and says at the end is its own.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "cli/view/views.hpp"
#include "switchwright/bench/session.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

struct SessionRun {
  Loop& loop;
  Store& store;
  EventStream& events;
  Meter& meter;
  QualifySession& session;
  View& view;
  std::string record_id;
  std::function<void(char)> key;          ///< empty: nobody is at the keys
  const std::optional<Record>& earlier;   ///< to go on with
  std::vector<LinkChange> link_so_far{};  ///< what the link said before there was a session
};

/// Returns when the session has ended. Whatever ends it, what was measured is in the store, or in a rescue
/// file that the error names; a reader of stdout that went away stops the session and loses nothing.
void run_session(const SessionRun& run);

}  // namespace switchwright::cli
