// The listener that keeps everything: one transaction per kept indication, and no reading older than a second that is
// not on the disk. When the disk fails, what could not be written is kept and tried again, and at the end put aside
// in a rescue file.
#pragma once

#include <filesystem>
#include <string>

#include "switchwright/bench/event.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

class Recorder {
 public:
  Recorder(Store& store, std::string record_id, EventStream& events);
  void on(const Event& event, Instant at);
  /// Writes what is left. @throws Error(store), naming the rescue file that holds what could not be written.
  void close();

 private:
  void flush(Instant at);

  Store& store_;
  std::string record_id_;
  EventStream& events_;
  Batch batch_;
  Monotonic last_write_{};
  bool failing_ = false;
  std::string failure_;
};

}  // namespace switchwright
