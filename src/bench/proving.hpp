// Proving dead: the meter is proven on a known source, every pair that could be live is tested for absence of voltage,
// and the meter is proven again; in AC volts and in DC volts (OSHA 29 CFR 1910.333(b)(2)(iv)(B); live, dead, live).
// Nothing else is touched before.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bench/procedure.hpp"
#include "switchwright/bench/event.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// The functions of this meter in which absence is tested: AC volts, DC volts, as far as it has them. A definition that
/// says nothing about volts is taken to have both.
std::vector<Quantity> proving_functions(const MeterDefinition& meter);

/// Between which points a voltage may stand that no other pair shows. A supply may hang on any two terminals and on
/// nothing else (a coil's own circuit), and no contact or element is known to join anything before it is measured: so
/// every terminal to every other and to exposed metal. Neighbours in the list share a probe where they can.
std::vector<Pair> pairs_that_may_be_live(const Profile& profile);

/// Prove, test, prove again, in each function; and for a function that the meter does not have, the statement that
/// another instrument has tested it. The knob is at the first position.
std::vector<Step> proving_steps(const Profile& profile, const MeterDefinition& meter, int first_number);

/// The meter shown a known source in each of its functions, and nothing else.
std::vector<Step> meter_proving_steps(const Profile& profile, const MeterDefinition& meter);

/// What an acknowledgement of a function that this meter does not have is called: "no-dc-voltage", "no-ac-voltage".
std::string absence_statement(Quantity function);

/// Thread rule: one owner, one thread.
class ProvingDead {
 public:
  ProvingDead(const MeterDefinition& meter, double dead_max_v, bool unattended)
      : meter_(meter), dead_max_v_(dead_max_v), unattended_(unattended) {}

  static bool is_part_of(StepKind kind) {
    return kind == StepKind::prove_meter || kind == StepKind::absence || kind == StepKind::prove_meter_again;
  }
  /// Every reading that comes while a step stands.
  void seen(const Step& step, const Reading& reading);
  /// Why a settled reading may not be kept.
  std::optional<Trouble> objection(const Step& step, const Indication& indication) const;
  void keep(const Step& step, const Indication& indication);
  /// Somebody states that another instrument has shown absence in this function.
  void stated(const std::string& what, const std::string& who) { stated_.emplace_back(what, who); }
  /// Sentences for the verdict. `proven` is false when something that could be live was neither tested nor stated.
  struct Summary {
    bool proven = true;
    std::vector<std::string> remarks;
  };
  Summary summary() const;

 private:
  bool still_on_source(const Indication& indication) const;

  const MeterDefinition& meter_;
  double dead_max_v_;
  bool unattended_;
  std::optional<Indication> source_;  ///< what the known source showed
  bool left_source_ = true;           ///< the reading has changed since: the probes were taken off
  std::vector<std::pair<std::string, std::string>> stated_;  ///< what, by whom
};

}  // namespace switchwright
