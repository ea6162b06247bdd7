// A part that stays wired to its load while it is measured, the supply isolated and locked off. The load and the pilot lamp join
// the network; every expectation is derived anew. What else is connected out there nobody knows: a path that the profile does not
// know can make any pair read lower, never higher.
#pragma once

#include <string>
#include <vector>

#include "switchwright/profile/profile.hpp"

namespace switchwright {

/// Sheathed elements are made within 5 % and read a few percent less cold than hot: common practice, no source.
constexpr double wired_load_tolerance_pct = 15.0;

/// One load as stated: "2800W@240", "20.6 ohm"; per output "H1-H2=2800W@240" or "surface=20.6 ohm", where the name is that of a
/// load in the profile's [powered] part.
struct WiredLoad {
  Pair between;
  double ohm = 0.0;
};
/// @throws Error(usage) that names the outputs where it is not said which is meant.
WiredLoad parse_wired_load(const std::string& text, const Profile& profile);

/// The same part with the loads as [[wired]] in its text: those stated, then the lamps and other loads of the profile's [powered]
/// part that stay connected too. The text is kept in the record as that of any profile.
Profile wired_profile(const Profile& profile, const std::vector<WiredLoad>& loads);

bool is_wired(const Profile& profile);
/// The same part with the connectors of these terminals pulled; all of them: as it lies on the bench.
Profile with_pulled(const Profile& profile, const std::vector<std::string>& terminals);
Profile all_pulled(const Profile& profile);
/// Terminals that something outside is connected to, in the profile's order.
std::vector<std::string> wired_terminals(const Profile& profile);

/// "H1-H2 20.6 ohm, P-L2 a lamp": for a sentence.
std::string wired_words(const Profile& profile);

}  // namespace switchwright
