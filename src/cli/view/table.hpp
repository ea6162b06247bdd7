// Plain text tables: columns padded to their widest cell.
#pragma once

#include <string>
#include <vector>

#include "cli/view/terminal.hpp"

namespace switchwright::cli {

class Table {
 public:
  explicit Table(std::vector<std::string> headings) { rows_.push_back(std::move(headings)); }
  void add(std::vector<std::string> row) { rows_.push_back(std::move(row)); }
  bool empty() const { return rows_.size() == 1; }
  /// One line per row, no trailing blanks.
  std::string text(const std::string& indent = "") const;
  /// The same, no line wider than `columns`: the columns named, widest first, are shortened until it fits, then the line is cut.
  std::string text_within(std::size_t columns, const std::vector<std::size_t>& elastic) const;

 private:
  std::vector<std::vector<std::string>> rows_;
};

}  // namespace switchwright::cli
