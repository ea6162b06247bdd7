// The listener that keeps everything: one transaction per kept indication, and no reading older than a second that is
// not on its way to the disk. The writing itself waits elsewhere. When the disk fails, what could not be written is held
// and tried again, and at the end put aside in a rescue file.
#pragma once

#include <memory>
#include <string>

#include "switchwright/bench/event.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

class Keeper;

/// Thread rule: lives on the loop's thread. From its first event to the end of close() the Store is its own.
class Recorder {
 public:
  Recorder(Store& store, std::string record_id, EventStream& events);
  ~Recorder();
  void on(const Event& event, Instant at);
  /// Call a few times a second: readings wait for company only so long, and what the store does is told.
  void tick(Instant at);
  /// The store is gone, or somebody else wrote in the record: the work has to stop.
  bool lost() const;
  /// Writes what is left and looks whether all of it is there. @throws Error(store), naming the rescue file that holds
  /// what is not.
  void close();

 private:
  void flush(Instant at);

  std::unique_ptr<Keeper> keeper_;
  EventStream& events_;
  Batch batch_;
  Monotonic last_write_{};
};

}  // namespace switchwright
