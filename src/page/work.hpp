// One piece of work that the page shows: a guided session, a trace, a meter that is listened to, an exercise.
#pragma once

#include <functional>
#include <memory>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>

#include "switchwright/page/desk.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright::page {

using Json = nlohmann::ordered_json;

std::string dumped(const Json& json);
/// A string of a command; empty when it is not there or is none. Cut at a length that nothing real has.
std::string text_of(const Json& command, const char* key);
std::optional<long> number_of(const Json& command, const char* key);

/// A command that cannot be followed just now, in one sentence for the person.
class Refusal : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// How a work speaks to the open pages.
struct Voice {
  std::function<void(const Json&)> tell;              ///< to all, in order
  std::function<void(int slot, const Json&)> latest;  ///< only the newest of a slot matters
};
enum Slot { slot_reading = 1, slot_trace = 2 };

class Work {
 public:
  virtual ~Work() = default;
  /// Everything that a page that comes now must know.
  virtual Json snapshot() const = 0;
  /// @throws Refusal.
  virtual void obey(const Json& command) = 0;
  /// A meter or a person is busy with it.
  virtual bool running() const = 0;
  /// Ends it; what was measured is kept. It may go on running for a moment.
  virtual void stop() = 0;
  /// Nothing but samples that every page keeps itself.
  virtual bool is_live() const { return false; }
};

struct WorkPlace {
  Loop& loop;
  const Clock& clock;
  const DeskSettings& settings;
  DemoBench* demo;
  Voice voice;
};

/// @throws Error, Refusal.
std::unique_ptr<Work> begin_guided(const WorkPlace& place, const Json& command);
std::unique_ptr<Work> begin_trace(const WorkPlace& place, const Json& command);
std::unique_ptr<Work> begin_listening(const WorkPlace& place, const Json& command);
std::unique_ptr<Work> begin_finding(const WorkPlace& place, const Json& command);
std::unique_ptr<Work> begin_practice(const WorkPlace& place, const Json& command);

/// What the work is for and what must be decided for a pass: "claim" and "require" of a command. @throws Error, Refusal.
void put_purpose(const Json& command, RecordHeader& header);

/// What a page draws of a part: terminals, metal, positions with their angles.
Json part_json(const Profile& profile);

}  // namespace switchwright::page
