// Sittings: one person at one bench without a break. What must be said and shown once per sitting is said and shown again
// after a break, by another person, or when nobody knows how long the break was.
#pragma once

#include <optional>
#include <string>

#include "cli/lot/bench.hpp"

namespace switchwright::cli {

class Sittings {
 public:
  explicit Sittings(const LotBench& bench) : bench_(bench) {}

  /// Before each unit: goes on with the sitting, or begins one (acknowledgement, bench check). @throws as check_bench.
  void be_ready();
  /// When the sample is done: what was tested since the last bench check counts when the bench still reads well.
  void check_before_the_decision();
  /// Puts into the settings what this sitting stands for.
  /// @param began_with the leads that the record to be gone on with began with
  void apply_to(SessionSettings& settings, bool goes_on, const std::optional<Indication>& began_with) const;
  /// A session of this sitting went through. @param record with the leads at its end
  void went_through(const std::string& record);
  /// What a unit's record says about the leads that it began with; absent: it reads them itself.
  const std::optional<Indication>& leads() const { return leads_; }

  /// Why absence of voltage is stated or measured: one sentence for reports.
  static std::string rule(bool parts_are_new);

 private:
  void look_back();
  void begin();
  void check();
  void acknowledge();

  const LotBench& bench_;
  std::optional<Wall> last_work_;
  std::string acknowledged_how_;
  std::string proven_in_;  ///< record; empty: not proven in this sitting
  std::optional<Indication> leads_;
  bool looked_back_ = false;
};

}  // namespace switchwright::cli
