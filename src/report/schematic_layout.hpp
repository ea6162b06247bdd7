// Where the parts of a schematic stand: every node of the network is a vertical wire with a column of its
// own, every part lies across from one wire to another, and no two parts share a piece of a row.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "switchwright/profile/profile.hpp"

namespace switchwright::schematic {

/// A contact or an element.
struct Part {
  const Contact* contact = nullptr;
  const Element* element = nullptr;
  std::size_t left = 0;  ///< column
  std::size_t right = 0;
  std::size_t row = 0;
  const Pair& between() const { return contact ? contact->between : element->between; }
};

struct Layout {
  std::vector<std::string> columns;  ///< nodes from left to right
  std::vector<Part> parts;
  std::vector<std::size_t> last_row;  ///< per column: how far down its wire goes; npos: no part ends there
  std::size_t rows = 0;
  static constexpr std::size_t npos = static_cast<std::size_t>(-1);
};

/// Columns in the order with the fewest crossings and the shortest wires: the best of all orders up to 8
/// nodes, above that the best that exchanging two finds. Exposed metal that nothing is joined to gets no
/// column.
Layout layout_of(const Profile& profile);

}  // namespace switchwright::schematic
