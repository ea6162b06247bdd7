#include "report/medium.hpp"

#include <algorithm>

namespace switchwright {

namespace {

// fact, sentence, note; deviations, list items, explanations, happenings, notes, readings, voltages, picture rows, channels, rows
constexpr PaperRoom rooms[] = {
    {320, 420, 500, 8, 8, 3, 10, 6, 120, 60, 16, 4, 24},
    {220, 300, 300, 6, 5, 3, 6, 4, 90, 40, 16, 3, 16},
    {140, 200, 160, 4, 2, 2, 4, 2, 60, 24, 12, 2, 6},
    {80, 110, 100, 2, 1, 1, 2, 1, 20, 8, 5, 1, 2},
};

}  // namespace

const PaperRoom& Medium::room() const { return rooms[std::clamp(level_, 0, briefest)]; }

std::string Medium::told(const std::string& text, std::size_t PaperRoom::*length) const {
  return on_paper_ ? shortened(text, room().*length) : text;
}

std::string shortened(const std::string& text, std::size_t most_bytes) {
  if (text.size() <= most_bytes) return text;
  std::size_t end = most_bytes;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;  // not within a letter
  return text.substr(0, end) + "\xE2\x80\xA6";
}

}  // namespace switchwright
