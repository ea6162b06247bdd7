// What a meter would make of a resistance that has not been measured yet. Internal to this room.
#pragma once

#include <optional>

#include "switchwright/judge/indication.hpp"
#include "switchwright/judge/uncertainty.hpp"

namespace switchwright {

class Eyes {
 public:
  /// @param spread_ohm spread of good contacts, see contact_spread_ohm(). The arguments must outlive this.
  Eyes(const MeterDefinition& meter, const Leads& leads, double spread_ohm);
  /// Standard uncertainty of a reading there.
  double u(double ohm) const;
  /// Probability of an over-range reading.
  double over_range(double ohm) const;
  /// Expected log-likelihood ratio between two resistances from one reading, in nats.
  double divergence(double a, double b) const;
  /// The indication that a faultless meter would settle to (leads included).
  Indication indication(double ohm) const;

 private:
  const MeterDefinition& meter_;
  const Leads& leads_;
  double spread_ohm_;
  std::optional<double> top_;
  double u_top_ = 1.0;
};

}  // namespace switchwright
