#include "cycle/series_cells.hpp"

#include <fast_float/fast_float.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>

namespace switchwright::series_cells {

namespace {

bool same_word(std::string_view text, std::string_view lower) {
  return text.size() == lower.size() && std::equal(text.begin(), text.end(), lower.begin(), [](char a, char b) {
           return (a >= 'A' && a <= 'Z' ? static_cast<char>(a - 'A' + 'a') : a) == b;
         });
}

struct Word {
  std::string_view text;
  Cell means;
};
constexpr std::array words{
    Word{"", {CellKind::absent}},
    Word{"nan", {CellKind::absent}},
    Word{"na", {CellKind::absent}},
    Word{"n/a", {CellKind::absent}},
    Word{"null", {CellKind::absent}},
    Word{"none", {CellKind::absent}},
    Word{"-", {CellKind::absent}},
    Word{"--", {CellKind::absent}},
    Word{"---", {CellKind::absent}},
    Word{"unknown", {CellKind::absent}},
    Word{"unavailable", {CellKind::absent}},
    Word{"-nan", {CellKind::absent}},
    Word{"ol", {CellKind::over_range}},
    Word{"o.l", {CellKind::over_range}},
    Word{".ol", {CellKind::over_range}},
    Word{"0l", {CellKind::over_range}},
    Word{"0.l", {CellKind::over_range}},
    Word{"+ol", {CellKind::over_range}},
    Word{"overload", {CellKind::over_range}},
    Word{"inf", {CellKind::over_range}},
    Word{"+inf", {CellKind::over_range}},
    Word{"infinity", {CellKind::over_range}},
    Word{"-ol", {CellKind::under_range}},
    Word{"-inf", {CellKind::under_range}},
    Word{"-infinity", {CellKind::under_range}},
    Word{"on", {CellKind::number, 1.0}},
    Word{"off", {CellKind::number, 0.0}},
    Word{"true", {CellKind::number, 1.0}},
    Word{"false", {CellKind::number, 0.0}},
};

/// The digits of `text` from `at`, exactly `count` of them; -1 when they are not there.
int digits(std::string_view text, std::size_t at, std::size_t count) {
  if (at + count > text.size()) return -1;
  int value = 0;
  for (std::size_t i = at; i < at + count; ++i) {
    const int digit = text[i] - '0';
    if (digit < 0 || digit > 9) return -1;
    value = value * 10 + digit;
  }
  return value;
}

bool one_of(std::string_view text, std::size_t at, std::string_view any) {
  return at < text.size() && any.find(text[at]) != std::string_view::npos;
}

}  // namespace

std::string_view trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return text;
}

void split(std::string_view row, char separator, std::vector<std::string_view>& cells) {
  cells.clear();
  if (separator == ' ') row = trimmed(row);
  std::size_t at = 0;
  for (;;) {
    while (at < row.size() && row[at] == ' ') ++at;
    if (at < row.size() && row[at] == '"') {
      std::size_t close = at + 1;
      while (close < row.size() && (row[close] != '"' || one_of(row, close + 1, "\"")))
        close += row[close] == '"' ? 2 : 1;
      close = std::min(close, row.size());
      cells.push_back(trimmed(row.substr(at + 1, close - at - 1)));
      at = std::min(row.find(separator, close), row.size());
    } else {
      const std::size_t end = std::min(row.find(separator, at), row.size());
      cells.push_back(trimmed(row.substr(at, end - at)));
      at = end;
    }
    if (at >= row.size()) return;
    ++at;
  }
}

bool read_number(std::string_view text, bool decimal_comma, double& value) {
  const char* first = text.data();
  const char* last = first + text.size();
  if (first != last && *first == '+') ++first;
  const auto answer = fast_float::from_chars_advanced(
      first, last, value, fast_float::parse_options{fast_float::chars_format::general, decimal_comma ? ',' : '.'});
  return answer.ec == std::errc() && answer.ptr == last && std::isfinite(value);
}

Cell read_cell(std::string_view text, bool decimal_comma) {
  Cell cell;
  if (read_number(text, decimal_comma, cell.value)) {
    cell.kind = CellKind::number;
    return cell;
  }
  for (const Word& word : words)
    if (same_word(text, word.text)) return word.means;
  return {};
}

bool read_iso_time(std::string_view text, DayTime& time, const std::int64_t* date_day) {
  using namespace std::chrono;
  if (date_day != nullptr) {
    time.day = *date_day;
  } else {
    const bool dotted = one_of(text, 2, ".");  // 01.03.2026: day, month, year
    const int y = digits(text, dotted ? 6 : 0, 4), m = digits(text, dotted ? 3 : 5, 2),
              d = digits(text, dotted ? 0 : 8, 2);
    if (y < 0 || m < 0 || d < 0) return false;
    if (dotted ? !one_of(text, 5, ".") : !one_of(text, 4, "-/") || !one_of(text, 7, "-/")) return false;
    const year_month_day date{year{y}, month{static_cast<unsigned>(m)}, day{static_cast<unsigned>(d)}};
    if (!date.ok()) return false;
    time.day = sys_days{date}.time_since_epoch().count();
  }
  time.seconds = 0.0;
  std::size_t at = 10;
  if (at == text.size()) return true;
  if (!one_of(text, at, "Tt ")) return false;
  const int hour = digits(text, 11, 2), minute = digits(text, 14, 2);
  if (hour < 0 || hour > 24 || minute < 0 || minute > 59 || !one_of(text, 13, ":")) return false;
  double second = 0.0;
  at = 16;
  if (one_of(text, at, ":")) {
    const int whole = digits(text, 17, 2);
    if (whole < 0 || whole > 60) return false;
    second = whole;
    at = 19;
    if (one_of(text, at, ".,")) {
      double numerator = 0.0, unit = 1.0;
      const std::size_t from = ++at;
      for (; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at) {
        numerator = numerator * 10.0 + (text[at] - '0');
        unit *= 10.0;
      }
      if (at == from) return false;
      second += numerator / unit;
    }
  }
  time.seconds = hour * 3600.0 + minute * 60.0 + second;
  if (one_of(text, at, " ")) ++at;
  if (one_of(text, at, "+-")) {
    const int hours = digits(text, at + 1, 2);
    const std::size_t minutes_at = one_of(text, at + 3, ":") ? at + 4 : at + 3;
    const int minutes = minutes_at < text.size() ? digits(text, minutes_at, 2) : 0;
    if (hours < 0 || minutes < 0) return false;
    time.seconds -= (text[at] == '+' ? 1.0 : -1.0) * (hours * 3600.0 + minutes * 60.0);
    return (minutes_at < text.size() ? minutes_at + 2 : at + 3) == text.size();
  }
  if (one_of(text, at, "Zz")) ++at;
  if (text.substr(at) == "UTC") at += 3;
  return at == text.size();
}

}  // namespace switchwright::series_cells
