#include "switchwright/judge/settle.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace switchwright;

namespace {

/// A meter that gives a reading every `every_s` seconds of a clock that only the test moves.
struct Feed {
  ManualClock clock;
  double every_s = 0.3;
  Settler settler{SettleRule{}, Quantity::resistance};

  Reading reading(double ohm, double digit = 0.1) const {
    Reading r;
    r.value = ohm;
    r.resolution = digit;
    r.flags.autorange = true;
    r.at = clock.now();
    return r;
  }
  Reading over(std::optional<double> beyond = std::nullopt) const {
    Reading r = reading(0.0);
    r.state = ReadingState::over_range;
    r.beyond = beyond;
    return r;
  }
  std::optional<Indication> give(const Reading& r) {
    const auto settled = settler.feed(r);
    clock.advance(from_seconds(every_s));
    return settled;
  }
  std::optional<Indication> give(double ohm, double digit = 0.1) { return give(reading(ohm, digit)); }
};

}  // namespace

TEST_CASE("a reading that cannot be used is refused with the next step") {
  struct Row {
    std::string what;
    Quantity wanted;
    Quantity shown;
    ReadingState state;
    ReadingFlags flags;
    std::string said;
  };
  const auto fine = ReadingState::finite;
  const std::vector<Row> rows{
      {"ohms when ohms are wanted", Quantity::resistance, Quantity::resistance, fine, {}, ""},
      {"over-range is a result", Quantity::resistance, Quantity::resistance, ReadingState::over_range, {}, ""},
      {"continuity counts as resistance", Quantity::resistance, Quantity::continuity, fine, {}, ""},
      {"low battery is kept, not refused", Quantity::resistance, Quantity::resistance, fine, {.low_battery = true}, ""},
      {"volts",
       Quantity::resistance,
       Quantity::voltage_dc,
       fine,
       {},
       "the meter is on DC volts; turn the dial to ohms"},
      {"diode test is not ohms",
       Quantity::resistance,
       Quantity::diode,
       fine,
       {},
       "the meter is on diode test; turn the dial to ohms"},
      {"two-wire is not four-wire",
       Quantity::resistance_4_wire,
       Quantity::resistance,
       fine,
       {},
       "the meter is on ohms; turn the dial to four-wire ohms"},
      {"hold",
       Quantity::resistance,
       Quantity::resistance,
       fine,
       {.hold = true},
       "the meter's display is on hold; switch hold off"},
      {"relative",
       Quantity::resistance,
       Quantity::resistance,
       fine,
       {.relative = true},
       "the meter subtracts an offset of its own; switch relative off (the tool subtracts the leads)"},
      {"kept extreme",
       Quantity::resistance,
       Quantity::resistance,
       fine,
       {.min_max = true},
       "the meter shows a kept minimum or maximum, not the present value; leave that mode"},
      {"no value",
       Quantity::resistance,
       Quantity::resistance,
       ReadingState::not_a_number,
       {},
       "the meter shows no value; check its dial, its leads and its fuse"},
      {"the wrong dial is said first",
       Quantity::resistance,
       Quantity::voltage_ac,
       fine,
       {.hold = true},
       "the meter is on AC volts; turn the dial to ohms"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    Reading reading;
    reading.quantity = row.shown;
    reading.state = row.state;
    reading.flags = row.flags;
    CHECK(refusal(reading, row.wanted) == row.said);
  }
}

TEST_CASE("readings that agree for the stated time settle to their mean once") {
  Feed feed;
  CHECK(feed.settler.progress() == 0.0);
  CHECK_FALSE(feed.give(0.3));
  CHECK_FALSE(feed.give(0.4));
  CHECK(feed.settler.progress() == doctest::Approx(0.5));  // 0.3 s of 0.6 s
  const auto settled = feed.give(0.5);
  REQUIRE(settled);
  CHECK(settled->value == doctest::Approx(0.4));
  CHECK(settled->readings == 3);
  CHECK(settled->resolution == 0.1);
  CHECK(settled->flags.autorange);
  CHECK(seconds_between(settled->from.monotonic, settled->to.monotonic) == doctest::Approx(0.6));
  CHECK(feed.settler.progress() == 1.0);
  CHECK_FALSE(feed.give(0.4));
  CHECK_FALSE(feed.give(0.4));
  feed.settler.reset();
  CHECK(feed.settler.progress() == 0.0);
  CHECK_FALSE(feed.give(0.4));
  CHECK_FALSE(feed.give(0.4));
  CHECK(feed.give(0.4));
}

TEST_CASE("too few or too quick readings do not settle") {
  SUBCASE("two readings a second apart are not three") {
    Feed feed;
    feed.every_s = 1.0;
    CHECK_FALSE(feed.give(0.3));
    CHECK_FALSE(feed.give(0.3));
    CHECK(feed.give(0.3));
  }
  SUBCASE("ten readings within half a second are not 0.6 s") {
    Feed feed;
    feed.every_s = 0.05;
    for (int i = 0; i < 12; ++i) CHECK_FALSE(feed.give(0.3));
    CHECK(feed.give(0.3));
  }
}

TEST_CASE("readings that do not agree do not settle until they do") {
  Feed feed;
  for (double ohm : {5.0, 3.0, 8.0, 2.0, 6.0, 1.0}) CHECK_FALSE(feed.give(ohm));
  CHECK_FALSE(feed.give(0.3));
  CHECK_FALSE(feed.give(0.5));
  CHECK(feed.give(0.4));
}

TEST_CASE("a refused reading starts the wait again") {
  Feed feed;
  CHECK_FALSE(feed.give(0.3));
  CHECK_FALSE(feed.give(0.3));
  Reading held = feed.reading(0.3);
  held.flags.hold = true;
  CHECK_FALSE(feed.give(held));
  CHECK_FALSE(feed.give(0.3));
  CHECK_FALSE(feed.give(0.3));
  CHECK(feed.give(0.3));
}

TEST_CASE("over-range settles by the same rule and a slip of the probe breaks it") {
  Feed feed;
  CHECK_FALSE(feed.give(feed.over()));
  CHECK_FALSE(feed.give(feed.over()));
  CHECK_FALSE(feed.give(0.3));
  CHECK_FALSE(feed.give(feed.over()));
  CHECK_FALSE(feed.give(feed.over()));
  const auto settled = feed.give(feed.over());
  REQUIRE(settled);
  CHECK(settled->state == ReadingState::over_range);
}

TEST_CASE("over-range on the way through the ranges is not the last word") {
  Feed feed;
  CHECK_FALSE(feed.give(feed.over(400.0)));
  CHECK_FALSE(feed.give(feed.over(4e3)));
  CHECK_FALSE(feed.give(feed.over(40e6)));
  CHECK_FALSE(feed.give(feed.over(40e6)));
  const auto settled = feed.give(feed.over(40e6));
  REQUIRE(settled);
  CHECK(settled->beyond == 40e6);
}

TEST_CASE("a coarse zero from a high range says nothing about a small resistance") {
  Feed feed;
  CHECK_FALSE(feed.give(0.0, 10e3));  // 0.00 Mohm while ranging down
  CHECK_FALSE(feed.give(0.0, 1e3));
  CHECK_FALSE(feed.give(0.3));
  CHECK_FALSE(feed.give(0.3));
  const auto settled = feed.give(0.3);
  REQUIRE(settled);
  CHECK(settled->value == doctest::Approx(0.3));
  CHECK(settled->resolution == 0.1);
}

TEST_CASE("a value that flickers between two ranges settles with the coarser digit") {
  Feed feed;
  CHECK_FALSE(feed.give(399.9, 0.1));
  CHECK_FALSE(feed.give(401.0, 1.0));
  const auto settled = feed.give(399.8, 0.1);
  REQUIRE(settled);
  CHECK(settled->resolution == 1.0);
}

TEST_CASE("a fine meter held by hand settles within the floor") {
  Feed feed;
  CHECK_FALSE(feed.give(0.2103, 1e-4));
  CHECK_FALSE(feed.give(0.2241, 1e-4));
  CHECK(feed.give(0.2190, 1e-4));
}

TEST_CASE("a low battery in one reading stays visible in the indication") {
  Feed feed;
  Reading low = feed.reading(0.3);
  low.flags.low_battery = true;
  CHECK_FALSE(feed.give(0.3));
  CHECK_FALSE(feed.give(low));
  const auto settled = feed.give(feed.reading(0.3));
  REQUIRE(settled);
  CHECK(settled->flags.low_battery);
}
