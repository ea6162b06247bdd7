// A network of resistors between named nodes, solved by nodal analysis. A profile at one position becomes
// such a network; so does a profile with a fault in it.
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "switchwright/core/interval.hpp"
#include "switchwright/core/pair.hpp"

namespace switchwright {

/// 0 ohm joins its nodes; infinity is no connection.
struct Resistor {
  std::string id;
  std::string from;
  std::string to;
  double ohm = 0.0;
};

/// All pair resistances of one network from one factorisation. Immutable once built.
class Network {
 public:
  /// @param nodes names, each once; @param resistors between those nodes, ohm in [0, inf].
  /// @throws std::invalid_argument for an unknown node or a negative or not-a-number resistance.
  Network(std::vector<std::string> nodes, const std::vector<Resistor>& resistors);
  ~Network();
  Network(Network&&) noexcept;
  Network& operator=(Network&&) noexcept;

  /// Resistance in ohm seen between two nodes, in [0, inf]; infinity when nothing connects them.
  double resistance_ohm(const std::string& a, const std::string& b) const;

  /// Each node's potential as a share of an ideal source between two nodes: 1 at `plus`, 0 at `minus`,
  /// between them elsewhere. Nodes that nothing joins to the source are absent: they float.
  /// @throws std::invalid_argument when 0 ohm joins the two (a short); std::out_of_range for an unknown node.
  std::map<std::string, double> potential_shares(const std::string& plus, const std::string& minus) const;

 private:
  struct Solution;
  std::unique_ptr<Solution> solution_;
};

}  // namespace switchwright
