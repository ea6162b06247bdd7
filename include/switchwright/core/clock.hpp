// Time is injected. Durations are taken from the monotonic clock; the wall clock only dates a record.
#pragma once

#include <chrono>
#include <string>

namespace switchwright {

using Monotonic = std::chrono::steady_clock::time_point;
using Wall = std::chrono::system_clock::time_point;

/// One moment on both clocks.
struct Instant {
  Monotonic monotonic{};
  Wall wall{};
};

/// Thread rule: now() may be called from the thread that runs the loop.
class Clock {
 public:
  virtual ~Clock() = default;
  virtual Instant now() const = 0;
};

/// The machine's clocks.
class SystemClock final : public Clock {
 public:
  Instant now() const override;
};

/// A clock that stands still until told: a twenty-minute trace is tested in milliseconds.
class ManualClock final : public Clock {
 public:
  explicit ManualClock(Instant start = {Monotonic{}, Wall{std::chrono::seconds{1767225600}}}) : now_(start) {}
  Instant now() const override { return now_; }
  /// Moves both clocks on.
  void advance(std::chrono::nanoseconds by);
  /// Jumps the wall clock alone, as a time server or an operator does.
  void jump_wall(std::chrono::nanoseconds by);

 private:
  Instant now_;
};

/// Seconds between two monotonic moments.
double seconds_between(Monotonic from, Monotonic to);
/// A duration in seconds as nanoseconds, rounded.
std::chrono::nanoseconds from_seconds(double seconds);

/// ISO 8601 in UTC with milliseconds: 2026-03-01T09:15:02.250Z.
std::string iso8601(Wall wall);
/// Reads what iso8601 writes (fraction of any length, Z or a numeric offset). @throws Error(usage).
Wall parse_iso8601(const std::string& text);

}  // namespace switchwright
