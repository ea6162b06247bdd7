// What the open pages see and can ask for: which work is going on, what has been kept, and who may answer what. The work
// goes on with any number of pages, and with none.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/judge/indication.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/page/server.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright::page {

/// A simulated bench that stands in for the outside world; whoever starts the program makes one for a demonstration.
class DemoBench {
 public:
  virtual ~DemoBench() = default;
  virtual const Profile& profile() const = 0;
  virtual const MeterDefinition& meter() const = 0;
  virtual std::string port() const = 0;    ///< of the simulated meter
  virtual std::string socket() const = 0;  ///< of hands that do by themselves what they are asked
  /// Another part on the bench; ports change.
  virtual void exchange(const std::string& profile_id) = 0;
  virtual void put_in(std::vector<Fault> faults) = 0;
  /// What somebody does on the panel.
  virtual void arrange(const Arrangement& arrangement, std::function<void(std::string trouble)> done) = 0;
};

/// A simulated switch of its own for one exercise. Thread rule: made, used and ended on one thread, which waits in take().
class ExerciseBench {
 public:
  virtual ~ExerciseBench() = default;
  virtual Indication take(const Arrangement& arrangement) = 0;
};
using MakeExerciseBench = std::function<std::unique_ptr<ExerciseBench>(
    const Profile& part, const MeterDefinition& meter, std::vector<Fault> faults, std::uint64_t seed)>;

struct DeskSettings {
  std::vector<std::filesystem::path> profiles;
  SearchPath meters;
  std::filesystem::path own_meters;
  std::filesystem::path store;
  std::filesystem::path practice_store;
  std::map<std::string, std::string>
      last;  ///< what the bench used last: "profile", "meter", "port", "operator", "part"
  std::function<void(const std::map<std::string, std::string>&)> remember;  ///< may be empty
  double settle_s = 0.6;  ///< a reading has settled when it agrees for this long
  MakeExerciseBench exercise_bench;
};

/// Thread rule: lives on the loop's thread.
class Desk {
 public:
  /// @param demo nullptr: real meters. All references must outlive the desk.
  Desk(Loop& loop, const Clock& clock, DeskSettings settings, DemoBench* demo);
  ~Desk();
  Desk(const Desk&) = delete;
  Desk& operator=(const Desk&) = delete;

  House house();
  /// Ends the work that goes on, keeps what was measured, then calls `done`. @param done called at once when there is none.
  void stop(std::function<void()> done);

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace switchwright::page
