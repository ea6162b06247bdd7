// The readings of one part as the two halves of learning need them. Internal to this room.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/learn/learn.hpp"

namespace switchwright {

struct LearnTable {
  struct Cell {
    std::optional<double> ohm;
    double U_ohm = 0.0;
  };
  std::vector<std::string> nodes;
  std::vector<std::string> positions;
  std::vector<std::vector<Cell>> cells;            ///< [position][a * nodes + b], symmetric
  std::vector<std::vector<std::size_t>> group_of;  ///< [position][node]: nodes of one group are joined

  const Cell& at(std::size_t position, std::size_t a, std::size_t b) const {
    return cells[position][a * nodes.size() + b];
  }
  bool joined(std::size_t position, std::size_t a, std::size_t b) const {
    return group_of[position][a] == group_of[position][b];
  }
  std::size_t groups(std::size_t position) const;
};
/// @throws Error(usage) when a reading is missing or has an unknown name.
LearnTable table_of(const LearnSubject& subject, const std::vector<LearnReading>& readings);

/// The fewest contacts that join what is joined, with what else would do; fills Learned.
void learn_contacts(const LearnTable& table, Learned& learned);
/// The fewest resistors found that give the other readings; fills Learned.
void learn_elements(const LearnTable& table, const LearnSubject& subject, Learned& learned);

}  // namespace switchwright
