// Readings against expectations.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/judge/finding.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// One settled indication at its place. Witness facts are about the placement (probes not moved in between).
struct Measured {
  std::string position;
  Pair pair;
  Indication indication;
  int placement = 0;            ///< counts up whenever a probe moves
  bool contact_stated = false;  ///< the operator or fixture states that both probes touch
  int visit = 0;  ///< which time the knob came to this place; a reading with the same number was taken again on purpose
  bool given_up = false;  ///< the placement was started again since a probe had slipped: it stands for nothing
};

/// What the operator states about the range of a meter that does not show it. Absent ohms: it picks its range.
struct StatedRange {
  std::optional<double> full_scale_ohm = {};
};

struct JudgeSettings {
  DecisionRule rule = DecisionRule::guarded;
  double k = 2.0;
  std::optional<StatedRange> range = {};     ///< only for meters whose frames say nothing about it
  std::map<std::string, int> closings = {};  ///< how often each contact must be seen to close; empty: not asked for
};

/// What no reading of a part that is still wired can show (explain/wiring.hpp).
struct HiddenByWiring {
  std::vector<std::string> faults;  ///< of the part, in words
  std::vector<std::string> pull;    ///< connectors; the fewest that leave nothing hidden
};

/// What a plan that is shorter than the full one does without, and what the wiring hides.
struct LeftOut {
  std::string plan;  ///< "short", "adaptive"; empty: the full plan, nothing is left out
  std::vector<Place> places;
  std::string sentence;                       ///< what that leaves unchecked; becomes a remark
  std::optional<HiddenByWiring> hidden = {};  ///< of a part that is wired; absent there: nothing can pass
};

/// Judges one indication; `witness` as known now, for over-range and for an open that may be fingers.
Finding judge(const Expectation& expected, const Indication& indication, Witness witness, const Profile& profile,
              const MeterDefinition& meter, const Leads& leads, const JudgeSettings& settings);

/// Judges everything measured: works out witnesses, takes the worst of all visits to each (position, pair), a redone
/// reading replacing the one it repeats, adds
/// what was not measured, inspection answers and remarks, and the scope that the outcome follows from (scope.hpp):
/// continuity (what the plan left out does not count as missing), soundness, inspection.
Verdict judge_all(const Profile& profile, const std::vector<Expectation>& expected,
                  const std::vector<Measured>& measured, const std::vector<InspectionFinding>& inspection,
                  const MeterDefinition& meter, const Leads& leads, const JudgeSettings& settings,
                  const LeftOut& left_out = {});

/// What this meter cannot decide about this profile, one plain sentence each with the way to decide it; said
/// before the work starts.
std::vector<std::string> undecidable(const Profile& profile, const MeterDefinition& meter, double k = 2.0);

}  // namespace switchwright
