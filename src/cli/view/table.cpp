#include "cli/view/table.hpp"

#include <algorithm>

namespace switchwright::cli {

std::string Table::text(const std::string& indent) const {
  std::vector<std::size_t> widths;
  for (const auto& row : rows_)
    for (std::size_t i = 0; i < row.size(); ++i) {
      if (i >= widths.size()) widths.push_back(0);
      widths[i] = std::max(widths[i], width_of(row[i]));
    }
  std::string text;
  for (const auto& row : rows_) {
    std::string line = indent;
    for (std::size_t i = 0; i < row.size(); ++i) {
      line += row[i];
      if (i + 1 < row.size()) line.append(widths[i] - width_of(row[i]) + 2, ' ');
    }
    line.erase(line.find_last_not_of(' ') + 1);
    text += line + "\n";
  }
  return text;
}

namespace {

/// No wider than `most`; what was cut ends with an ellipsis. Letters are never cut in two.
std::string cut(const std::string& text, std::size_t most) {
  if (width_of(text) <= most) return text;
  std::string kept;
  for (std::size_t i = 0; i < text.size();) {
    std::size_t next = i + 1;
    while (next < text.size() && (static_cast<unsigned char>(text[next]) & 0xC0) == 0x80) ++next;
    if (width_of(kept + text.substr(i, next - i)) + 1 > most) break;
    kept += text.substr(i, next - i);
    i = next;
  }
  return most == 0 ? "" : kept + "\xE2\x80\xA6";
}

}  // namespace

std::string Table::text_within(std::size_t columns, const std::vector<std::size_t>& elastic) const {
  std::vector<std::size_t> widths;
  for (const auto& row : rows_)
    for (std::size_t i = 0; i < row.size(); ++i) {
      if (i >= widths.size()) widths.push_back(0);
      widths[i] = std::max(widths[i], width_of(row[i]));
    }
  const auto whole = [&] {
    std::size_t sum = widths.empty() ? 0 : 2 * (widths.size() - 1);
    for (const std::size_t width : widths) sum += width;
    return sum;
  };
  constexpr std::size_t narrowest = 6;
  while (whole() > columns) {
    std::size_t widest = widths.size();
    for (const std::size_t i : elastic)
      if (i < widths.size() && widths[i] > narrowest && (widest == widths.size() || widths[i] > widths[widest]))
        widest = i;
    if (widest == widths.size()) break;
    --widths[widest];
  }
  Table fitted({});
  fitted.rows_.clear();
  for (const auto& row : rows_) {
    fitted.rows_.push_back(row);
    for (std::size_t i = 0; i < row.size(); ++i) fitted.rows_.back()[i] = cut(row[i], widths[i]);
  }
  std::string text, line;
  for (const char c : fitted.text()) {
    if (c != '\n') {
      line += c;
      continue;
    }
    text += cut(line, columns) + "\n";
    line.clear();
  }
  return text;
}

}  // namespace switchwright::cli
