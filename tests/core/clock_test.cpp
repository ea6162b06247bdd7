#include "switchwright/core/clock.hpp"

#include <doctest/doctest.h>

#include "switchwright/core/error.hpp"
#include "switchwright/core/pair.hpp"

using namespace switchwright;
using namespace std::chrono;

TEST_CASE("ISO 8601 times are written in UTC and read back, whatever the offset") {
  const Wall wall{sys_days{2026y / March / 1} + 9h + 15min + 2s + 250ms};
  CHECK(iso8601(wall) == "2026-03-01T09:15:02.250Z");
  CHECK(parse_iso8601("2026-03-01T09:15:02.250Z") == wall);
  CHECK(parse_iso8601("2026-03-01T10:15:02.25+01:00") == wall);
  CHECK(parse_iso8601("2026-03-01 03:45:02,250-0530") == wall);
}

TEST_CASE("a text that is no time is refused with an example") {
  for (const char* text : {"", "yesterday", "2026-13-01", "2026-02-30", "2026-03-01T25:00", "2026-03-01T09:15:02x"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(parse_iso8601(text), Error);
  }
}

TEST_CASE("a wall clock that jumps does not move the monotonic clock") {
  ManualClock clock;
  const Instant before = clock.now();
  clock.jump_wall(-1h);
  clock.advance(5s);
  CHECK(seconds_between(before.monotonic, clock.now().monotonic) == 5.0);
  CHECK(clock.now().wall - before.wall == -1h + 5s);
}

TEST_CASE("a pair is the same both ways round and keeps the order it was given") {
  CHECK(Pair("L1", "H1") == Pair("H1", "L1"));
  CHECK(Pair("L1", "H1").text() == "L1-H1");
  CHECK(Pair("H1", "L1").text() == "H1-L1");
  CHECK(Pair("L1", "H1").shared_with(Pair("H1", "P")) == "H1");
  CHECK(Pair("L1", "H1").shared_with(Pair("H2", "P")).empty());
}
