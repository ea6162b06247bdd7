// How often each contact is seen to close, and the further turns of the knob that show it closing again.
//
// A contact that closed once need not close the next time. A closing is seen where a reading is taken of a pair that
// is joined by this contact (alone, or in a row with others) after the knob has passed a position where the contact
// is open. The order of probing sweeps the knob once per placement, so most contacts are seen once or twice; the
// rest is had by turning back over a step of the knob and on again, probes left in place.
#pragma once

#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/profile/route.hpp"

namespace switchwright {

/// How often a contact is seen to close in the full plan. Three is the fewest from which a scatter can be told from
/// one odd reading (common practice, no source).
inline constexpr int closings_wanted = 3;

/// Follows the knob through readings in the order taken.
class ClosingCount {
 public:
  ClosingCount(const Profile& profile, const std::vector<Expectation>& expected);

  /// A reading is taken: the knob went to `position` from where it was, past every position in between.
  void visit(const std::string& position, const Pair& pair);
  /// By contact id; contacts that no checked pair shows are not in it.
  const std::map<std::string, int>& seen() const { return seen_; }
  /// The contacts without which this pair would not be closed at this position.
  const std::set<std::string>& shown_by(const std::string& position, const Pair& pair) const;

 private:
  const Profile& profile_;
  std::map<std::pair<std::string, Pair>, std::set<std::string>> shown_by_;
  std::map<std::string, int> seen_;
  std::map<std::string, int> closing_;    ///< which closing of a contact lasts now; 0: none yet
  std::map<std::string, int> last_seen_;  ///< which closing was seen last
  std::map<std::string, bool> was_open_;
  int knob_ = -1;  ///< index of the position; -1: not known yet
};

/// How often each contact is seen to close when a route is gone through.
std::map<std::string, int> closings_in(const Profile& profile, const std::vector<Expectation>& expected,
                                       const std::vector<Placement>& route);

/// The route with further visits, at the least cost that one visit after the other can have, until each contact that
/// the knob opens is seen to close `wanted` times. A contact that is closed at every position, or that no pair shows,
/// stays as it is.
std::vector<Placement> with_closings(const Profile& profile, const std::vector<Expectation>& expected,
                                     const std::vector<Placement>& route, const RouteCost& cost,
                                     int wanted = closings_wanted);

}  // namespace switchwright
