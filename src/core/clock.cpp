#include "switchwright/core/clock.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <cctype>
#include <cmath>
#include <cstdio>

#include "switchwright/core/error.hpp"

namespace switchwright {

using namespace std::chrono;

Instant SystemClock::now() const { return {steady_clock::now(), system_clock::now()}; }

void ManualClock::advance(nanoseconds by) {
  now_.monotonic += duration_cast<steady_clock::duration>(by);
  now_.wall += duration_cast<system_clock::duration>(by);
}

void ManualClock::jump_wall(nanoseconds by) { now_.wall += duration_cast<system_clock::duration>(by); }

double seconds_between(Monotonic from, Monotonic to) { return duration<double>(to - from).count(); }

nanoseconds from_seconds(double seconds) {
  // 292 years in nanoseconds are all that the clock's numbers hold.
  constexpr double longest_s = 9.2e9;
  if (!(std::abs(seconds) <= longest_s))
    throw Error(ErrorKind::usage, fmt::format("{:g} s is no duration that a clock can hold", seconds));
  return nanoseconds{std::llround(seconds * 1e9)};
}

std::string iso8601(Wall wall) {
  const auto whole = floor<milliseconds>(wall);
  const auto day = floor<days>(whole);
  const year_month_day date{day};
  const hh_mm_ss time{whole - day};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), time.hours().count(),
                     time.minutes().count(), time.seconds().count(), time.subseconds().count());
}

namespace {

/// Reads exactly `digits` digits at `at` and moves on; -1 when they are not there.
int number_at(const std::string& text, std::size_t& at, std::size_t digits) {
  int value = 0;
  for (std::size_t i = 0; i < digits; ++i) {
    if (at + i >= text.size() || !std::isdigit(static_cast<unsigned char>(text[at + i]))) return -1;
    value = value * 10 + (text[at + i] - '0');
  }
  at += digits;
  return value;
}

bool skip(const std::string& text, std::size_t& at, const char* any_of) {
  for (const char* c = any_of; *c != 0; ++c)
    if (at < text.size() && text[at] == *c) return ++at, true;
  return false;
}

}  // namespace

Wall parse_iso8601(const std::string& text) {
  const auto wrong = [&]() {
    return Error(ErrorKind::usage, "\"" + text + "\" is not an ISO 8601 time", "",
                 "write it like 2026-03-01T09:15:02.250Z");
  };
  std::size_t at = 0;
  const int y = number_at(text, at, 4);
  if (y < 0 || !skip(text, at, "-")) throw wrong();
  const int mo = number_at(text, at, 2);
  if (mo < 0 || !skip(text, at, "-")) throw wrong();
  const int d = number_at(text, at, 2);
  const year_month_day date{year{y}, month{static_cast<unsigned>(mo)}, day{static_cast<unsigned>(d)}};
  if (d < 0 || !date.ok()) throw wrong();
  // The clock counts nanoseconds in 64 bits, from September 1677 to April 2262; a day's margin for the offset.
  if (y < 1678 || y > 2261)
    throw Error(ErrorKind::usage, "the year of \"" + text + "\" is beyond the clock's range", "",
                "a year from 1678 to 2261 can be");
  nanoseconds since_midnight{0};
  if (at < text.size()) {
    if (!skip(text, at, "T ")) throw wrong();
    const int h = number_at(text, at, 2);
    if (h < 0 || h > 23 || !skip(text, at, ":")) throw wrong();
    const int m = number_at(text, at, 2);
    if (m < 0 || m > 59) throw wrong();
    int s = 0;
    if (skip(text, at, ":") && ((s = number_at(text, at, 2)) < 0 || s > 60)) throw wrong();
    since_midnight = hours{h} + minutes{m} + seconds{s};
    if (skip(text, at, ".,")) {
      std::int64_t unit_ns = 100'000'000;
      const auto first = at;
      for (; at < text.size() && std::isdigit(static_cast<unsigned char>(text[at])); ++at, unit_ns /= 10)
        since_midnight += nanoseconds{(text[at] - '0') * unit_ns};
      if (at == first) throw wrong();
    }
    const bool ahead = at < text.size() && text[at] == '+';
    if (skip(text, at, "+-")) {
      const int oh = number_at(text, at, 2);
      skip(text, at, ":");
      const int om = at < text.size() ? number_at(text, at, 2) : 0;
      if (oh < 0 || om < 0) throw wrong();
      const auto offset = hours{oh} + minutes{om};
      since_midnight -= ahead ? nanoseconds{offset} : -nanoseconds{offset};
    } else {
      skip(text, at, "Zz");
    }
    if (at != text.size()) throw wrong();
  }
  return Wall{duration_cast<system_clock::duration>(sys_days{date}.time_since_epoch() + since_midnight)};
}

}  // namespace switchwright
