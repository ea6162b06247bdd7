// Finds the layout of a recorded series from its first lines.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include "cycle/series_cells.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/cycle/series_file.hpp"

namespace switchwright {

using namespace series_cells;

namespace {

struct Line {
  std::uint64_t number;
  std::string_view text;
};

std::vector<Line> lines_in(std::string_view head, bool whole) {
  std::vector<Line> lines;
  std::uint64_t number = 0;
  while (!head.empty()) {
    const std::size_t end = head.find('\n');
    if (end == std::string_view::npos && !whole && !lines.empty()) break;
    const std::string_view text = trimmed(head.substr(0, end));
    ++number;
    if (!text.empty() && text.front() != '#') lines.push_back({number, text});
    head.remove_prefix(std::min(end == std::string_view::npos ? head.size() : end + 1, head.size()));
  }
  return lines;
}

bool is_time(std::string_view cell, bool decimal_comma, bool& iso) {
  double number = 0.0;
  DayTime time;
  iso = cell.size() >= 10 && read_iso_time(cell, time);
  return iso || read_number(cell, decimal_comma, number);
}

/// A row of data: a time, and cells that are numbers or say why there is none, at least one of them saying
/// something.
bool is_data(const std::vector<std::string_view>& cells, bool decimal_comma, bool& iso) {
  if (cells.size() < 2 || !is_time(cells.front(), decimal_comma, iso)) return false;
  bool any = false;
  for (std::size_t i = 1; i < cells.size(); ++i) {
    const Cell cell = read_cell(cells[i], decimal_comma);
    any = any || (cell.kind != CellKind::wrong && cell.kind != CellKind::absent);
  }
  return any;
}

std::string quoted(std::string_view text) { return "\"" + terminal_safe(text.substr(0, 40)) + "\""; }

struct TimeUnit {
  double seconds;
  std::string_view plural;
  std::array<std::string_view, 5> words;
};
constexpr std::array time_units{
    TimeUnit{1.0, "seconds", {"s", "sec", "secs", "second", "seconds"}},
    TimeUnit{1e-3, "milliseconds", {"ms", "msec", "millis", "millisecond", "milliseconds"}},
    TimeUnit{1e-6, "microseconds", {"us", "usec", "micros", "microsecond", "microseconds"}},
    TimeUnit{1e-9, "nanoseconds", {"ns", "nsec", "nanos", "nanosecond", "nanoseconds"}},
    TimeUnit{60.0, "minutes", {"min", "mins", "minute", "minutes", "min"}},
    TimeUnit{3600.0, "hours", {"h", "hr", "hrs", "hour", "hours"}},
};

/// The unit that a column's name ends in or has in brackets, as "time_ms", "t [ms]", "elapsed minutes"; nothing when it
/// says none.
std::optional<TimeUnit> unit_in_name(std::string_view name) {
  std::optional<TimeUnit> unit;
  std::string word;
  for (std::size_t i = 0; i <= name.size(); ++i) {
    const auto c = i < name.size() ? static_cast<unsigned char>(name[i]) : 0u;
    if (std::isalpha(static_cast<int>(c)) != 0) {
      word += static_cast<char>(std::tolower(static_cast<int>(c)));
      continue;
    }
    for (const TimeUnit& known : time_units)
      if (!word.empty() && std::find(known.words.begin(), known.words.end(), word) != known.words.end()) unit = known;
    word.clear();
  }
  return unit;
}

}  // namespace

/// Stated, or named, or so large that it can only count from 1970.
void SeriesFile::find_time_unit(double first_time) {
  const auto taken_as = [&](std::string_view unit, const std::string& why) {
    layout_.notices.push_back(fmt::format("Times like {} are taken as {}{}.", layout_.first_time, unit, why));
  };
  const double size = std::abs(first_time);
  if (stated_time_unit_s_) {
    layout_.time_unit_s = *stated_time_unit_s_;
  } else if (const auto named = unit_in_name(layout_.time_name); named && (named->seconds < 1.0 || size <= 1e11)) {
    layout_.time_unit_s = named->seconds;
    if (named->seconds != 1.0)
      taken_as(named->plural, ", as the column \"" + layout_.time_name + "\" says (--time-unit states another)");
  } else if (size > 1e11) {
    layout_.time_unit_s = size > 1e17 ? 1e-9 : size > 1e14 ? 1e-6 : 1e-3;
    taken_as(size > 1e17 ? "nanoseconds" : size > 1e14 ? "microseconds" : "milliseconds", " since 1970");
  }
}

void SeriesFile::find_layout(std::string_view head, bool whole) {
  const std::string where = path_.string();
  if (head.starts_with("\xFF\xFE") || head.starts_with("\xFE\xFF"))
    throw Error(ErrorKind::usage, "the file is UTF-16", where, "save it as UTF-8 text");
  if (head.starts_with("\x1F\x8B") || head.starts_with("PK"))
    throw Error(ErrorKind::usage, "the file is compressed or a workbook", where, "unpack it or save it as CSV");
  if (head.starts_with("\xEF\xBB\xBF")) head.remove_prefix(3);
  const std::vector<Line> lines = lines_in(head, whole);
  if (lines.empty()) throw Error(ErrorKind::usage, "the file is empty", where, "choose a file with recorded samples");

  std::vector<std::string_view> cells;
  std::size_t data_at = lines.size();
  bool iso = false;
  for (const char separator : {'\t', ';', ',', ' '}) {
    for (const bool comma : {false, true}) {
      if (comma && separator == ',') continue;
      for (std::size_t i = 0; i < std::min(data_at, lines.size()); ++i) {
        split(lines[i].text, separator, cells);
        bool row_iso = false;
        if (!is_data(cells, comma, row_iso)) continue;
        data_at = i;
        layout_.separator = separator;
        layout_.decimal_comma = comma;
        iso = row_iso;
        break;
      }
    }
    if (data_at < lines.size()) break;
  }
  if (data_at == lines.size()) {
    split(lines.front().text, ',', cells);
    if (lines.size() == 1 && whole)
      throw Error(ErrorKind::usage, "the file has a header line and no rows", where, "record some samples first");
    double number = 0.0;
    const std::string_view last = lines.back().text;
    if (read_number(last, false, number) || read_number(last, true, number))
      throw Error(ErrorKind::usage, "the file has one column", where,
                  "the first column must be the time in seconds (or ISO 8601), each further column a channel");
    throw Error(ErrorKind::usage,
                "no row holds a time and a number; line " +
                    std::to_string(lines[std::min<std::size_t>(1, lines.size() - 1)].number) + " is " +
                    quoted(lines[std::min<std::size_t>(1, lines.size() - 1)].text),
                where,
                "the first column must be seconds or a time like 2026-03-01T09:15:02, each further column a channel");
  }
  // Integers in the first row leave the decimal sign open: any later row may tell.
  if (layout_.separator != ',' && !layout_.decimal_comma)
    for (std::size_t i = data_at; i < lines.size() && !layout_.decimal_comma; ++i) {
      split(lines[i].text, layout_.separator, cells);
      bool row_iso = false;
      const bool point =
          is_data(cells, false, row_iso) && std::none_of(cells.begin() + 1, cells.end(), [](std::string_view c) {
            return read_cell(c, false).kind == CellKind::wrong && read_cell(c, true).kind == CellKind::number;
          });
      if (!point && is_data(cells, true, row_iso)) layout_.decimal_comma = true;
    }

  split(lines[data_at].text, layout_.separator, cells);
  const std::size_t columns = cells.size();
  layout_.first_time = std::string(cells.front());
  layout_.iso_times = iso;
  layout_.first_line = lines[data_at].number;
  std::optional<double> first_time;  // a number, and no date
  if (iso) {
    DayTime time;
    read_iso_time(cells.front(), time);
    base_day_ = time.day;
    base_s_ = time.seconds;
  } else {
    double first = 0.0;
    read_number(cells.front(), layout_.decimal_comma, first);
    first_time = first;
  }
  std::vector<std::string_view> names;
  for (std::size_t i = 0; i < data_at && layout_.header_line == 0; ++i) {
    split(lines[i].text, layout_.separator, names);
    if (names.size() == columns || (i + 1 == data_at && names.size() >= 2)) layout_.header_line = lines[i].number;
  }
  if (layout_.header_line == 0) {
    names.clear();
    layout_.notices.push_back(
        fmt::format("There is no header line (line {} is data already): channels are named after their column.",
                    layout_.first_line));
  } else {
    layout_.time_name = terminal_safe(names.front());
  }
  if (first_time) find_time_unit(*first_time);
  for (std::size_t i = 1; i < columns; ++i) {
    std::string name = i < names.size() ? terminal_safe(names[i]) : std::string();
    if (name.empty() && i + 1 == columns && i > 1 && cells[i].empty())
      continue;  // a separator at the end of every line
    if (name.empty()) name = fmt::format("column {}", i + 1);
    const auto same = std::count(layout_.channels.begin(), layout_.channels.end(), name);
    layout_.channels.push_back(same == 0 ? name : fmt::format("{} (column {})", name, i + 1));
  }
}

}  // namespace switchwright
