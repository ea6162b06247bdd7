// What one cell of a recorded series may say. Shared by the reader and the finder of layouts.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

namespace switchwright::series_cells {

enum class CellKind { number, over_range, under_range, absent, wrong };

struct Cell {
  CellKind kind = CellKind::wrong;
  double value = 0.0;
};

/// Without blanks around it.
std::string_view trimmed(std::string_view text);
/// Cuts a row into cells; quotes around a cell are taken off (a doubled quote inside stays as written).
void split(std::string_view row, char separator, std::vector<std::string_view>& cells);
Cell read_cell(std::string_view text, bool decimal_comma);
bool read_number(std::string_view text, bool decimal_comma, double& value);

/// An ISO 8601 date and time (also with a blank for the T, slashes in the date, or a dotted
/// day.month.year) as a day since 1970 and
/// seconds of that day, offset taken off.
struct DayTime {
  std::int64_t day = 0;
  double seconds = 0.0;
};
/// @param date_day when not null, a day already known for the first ten characters
bool read_iso_time(std::string_view text, DayTime& time, const std::int64_t* date_day = nullptr);

}  // namespace switchwright::series_cells
