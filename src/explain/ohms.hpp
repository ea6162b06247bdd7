// All pair resistances of a network, and what one added resistor makes of them.
//
// A resistor r joined between c and d changes the resistance between a and b to
//   R'_ab = R_ab - (v_a - v_b)^2 / (r + R_cd),   v_x = (R_xd - R_xc) / 2
// (Sherman and Morrison's rank-one update of the inverse admittance matrix, written in pair resistances);
// where c and d were not connected at all, paths simply add up. So thousands of faulty networks cost one
// small loop each instead of one solve each.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace switchwright {

class Ohms {
 public:
  /// Nothing is connected.
  explicit Ohms(std::size_t nodes);
  std::size_t nodes() const { return nodes_; }
  double operator()(std::size_t a, std::size_t b) const { return ohm_[a * nodes_ + b]; }
  double& at(std::size_t a, std::size_t b) { return ohm_[a * nodes_ + b]; }
  /// Adds a resistor of `ohm` (0 or more, infinity adds nothing) between two nodes.
  void add(std::size_t c, std::size_t d, double ohm);
  /// The `ohm` that a resistor between c and d must have for the pair a-b to read `reading`, below 0 where even a joint
  /// of 0 ohm leaves too much; absent when no resistor makes it so.
  /// @param slope receives the change of the reading per ohm of the resistor.
  std::optional<double> needed(std::size_t c, std::size_t d, std::size_t a, std::size_t b, double reading,
                               double& slope) const;
  /// Change of the pair a-b per ohm of a resistor that is part of this network, has `ohm` (above 0) and joins c and d:
  /// the square of the share of a current from a to b that flows through it.
  double slope(std::size_t c, std::size_t d, double ohm, std::size_t a, std::size_t b) const;

 private:
  std::size_t nodes_;
  std::vector<double> ohm_;
};

}  // namespace switchwright
