// Resistances by Gauss's elimination, written for these tests alone: it shares no line with the tool's own nodal analysis.
#pragma once

#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>
#include <vector>

namespace independent {

inline constexpr double no_connection = std::numeric_limits<double>::infinity();

/// A resistor between two numbered nodes; ohm above 0, infinite for none.
struct Resistor {
  std::size_t a;
  std::size_t b;
  double ohm;
};

/// Resistance in ohm between two nodes: 1 A is sent from one to the other and the voltage solved for (Kirchhoff's current
/// law at every node that is joined with them). Infinite when nothing joins them.
inline double resistance_ohm(std::size_t nodes, const std::vector<Resistor>& resistors, std::size_t from,
                             std::size_t to) {
  // What is joined with `from`.
  std::vector<bool> joined(nodes, false);
  joined[from] = true;
  for (bool grew = true; grew;) {
    grew = false;
    for (const Resistor& r : resistors)
      if (r.ohm < no_connection && joined[r.a] != joined[r.b]) {
        joined[r.a] = joined[r.b] = true;
        grew = true;
      }
  }
  if (!joined[to]) return no_connection;

  // Node `to` is the reference; the others that are joined are the unknowns.
  std::vector<std::size_t> index(nodes, nodes);
  std::size_t n = 0;
  for (std::size_t i = 0; i < nodes; ++i)
    if (joined[i] && i != to) index[i] = n++;
  std::vector<std::vector<long double>> m(n, std::vector<long double>(n + 1, 0.0L));
  for (const Resistor& r : resistors) {
    if (!(r.ohm < no_connection) || r.a == r.b || !joined[r.a]) continue;
    const long double g = 1.0L / r.ohm;
    for (const auto& [here, there] : {std::pair{r.a, r.b}, std::pair{r.b, r.a}}) {
      if (here == to) continue;
      m[index[here]][index[here]] += g;
      if (there != to) m[index[here]][index[there]] -= g;
    }
  }
  m[index[from]][n] = 1.0L;
  for (std::size_t c = 0; c < n; ++c) {
    std::size_t pivot = c;
    for (std::size_t r = c; r < n; ++r)
      if (std::fabs(m[r][c]) > std::fabs(m[pivot][c])) pivot = r;
    std::swap(m[c], m[pivot]);
    for (std::size_t r = 0; r < n; ++r) {
      if (r == c || m[r][c] == 0.0L) continue;
      const long double factor = m[r][c] / m[c][c];
      for (std::size_t k = c; k <= n; ++k) m[r][k] -= factor * m[c][k];
    }
  }
  return static_cast<double>(m[index[from]][n] / m[index[from]][index[from]]);
}

}  // namespace independent
