// The probability of all readings together under a scenario, with everything that is not known integrated out.
// Internal to this room.
//
// What is not known: each sound contact has anything from zero to its limit, each its own; so has a short or a bridge;
// an element is anywhere in its tolerance; a resistive contact and a drifted element may have any order of magnitude;
// the meter's error in a range is common to all readings there. Two habits of contacts are possible, each as likely as
// the other: a contact comes back to its value with every closing, or it has another value each time.
//
// How: the pair resistances are linear in the values near any point (slope: the square of a current's share), the errors
// are normal, so the integral is that of a normal distribution with limits put in (belief.hpp). Where contacts lie in
// parallel the slopes bend: the point is moved to where the readings want it, and the integral taken again.
// A value of any order of magnitude is cut into pieces around what the readings ask for, evenly likely within each.
#pragma once

#include <vector>

#include "explain/belief.hpp"
#include "explain/predictor.hpp"
#include "explain/weigh.hpp"

namespace switchwright {

class Evidence {
 public:
  /// Both must outlive this.
  Evidence(const Predictor& predictor, const std::vector<Datum>& data);
  /// @param start values of the unknowns near where the readings want them (Weigher::located).
  /// @return the logarithm of the marginal likelihood; means and standard deviations of the unknowns and
  /// the sound contacts.
  Fitted of(const Scenario& scenario, const Fitted& start) const;
  /// The networks with every unknown and every sound contact at its fitted value.
  std::vector<Ohms> networks(const Scenario& scenario, const Fitted& fitted) const;

 private:
  /// How a contact closes the next time.
  enum class Habit { repeats, varies };
  /// Values of one unknown that are evenly likely, with their share of all that is possible.
  struct Piece {
    double least = 0.0;
    double most = 0.0;
    double share = 1.0;
  };
  struct Pass;

  std::vector<Piece> pieces_of(const Unknown& unknown, double ohm, double sigma, Habit habit) const;
  Fitted within(const Scenario& scenario, const std::vector<Piece>& pieces, const Fitted& start, Habit habit) const;

  const Predictor* predictor_;
  const std::vector<Datum>* data_;
  std::size_t ranges_ = 0;
};

}  // namespace switchwright
