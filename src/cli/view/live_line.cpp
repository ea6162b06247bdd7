#include "cli/view/live_line.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>

#include "cli/view/table.hpp"

namespace switchwright::cli {

namespace {

constexpr std::size_t longest_trend = 32;
constexpr std::size_t words_width = 34;
constexpr const char* blocks[] = {"▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};

std::size_t terminal_columns() {
  winsize size{};
  return ::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

}  // namespace

std::string LiveLine::add(const Reading& reading, const std::string& words) {
  if (quantity_ != reading.quantity) values_.clear();  // ohms and volts have no common scale
  quantity_ = reading.quantity;
  values_.push_back(reading.finite() ? std::optional{reading.value} : std::nullopt);
  const std::size_t room = terminal_columns() > words_width + 4 ? terminal_columns() - words_width - 2 : 0;
  while (values_.size() > std::min(longest_trend, room)) values_.pop_front();
  std::string line = words;
  if (const std::size_t width = width_of(words); width < words_width) line.append(words_width - width, ' ');
  return line + trend();
}

/// From the lowest to the highest value shown; a steady value stays in the middle; a blank is a reading without a value.
std::string LiveLine::trend() const {
  double low = INFINITY, high = -INFINITY;
  for (const auto& value : values_)
    if (value) low = std::min(low, *value), high = std::max(high, *value);
  std::string text;
  for (const auto& value : values_) {
    if (!value) {
      text += ' ';
      continue;
    }
    const double share = high > low ? (*value - low) / (high - low) : 0.5;
    text += blocks[static_cast<std::size_t>(std::lround(share * 7.0))];
  }
  return text;
}

}  // namespace switchwright::cli
