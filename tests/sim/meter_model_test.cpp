#include "sim/meter_model.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace switchwright::sim {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

/// A 4000-count meter; figures invented.
MeterDefinition meter() {
  MeterDefinition definition;
  definition.id = "invented";
  definition.accuracy = {
      {Quantity::resistance, 400.0, 0.1, 0.8, 3}, {Quantity::resistance, 4000.0, 1.0, 0.8, 2},
      {Quantity::resistance, 40e6, 10e3, 1.5, 3}, {Quantity::voltage_ac, 4.0, 0.001, 1.0, 5},
      {Quantity::voltage_ac, 400.0, 0.1, 1.0, 5}, {Quantity::voltage_dc, 4.0, 0.001, 0.5, 2},
  };
  return definition;
}

}  // namespace

TEST_CASE("The smallest range that holds the value is chosen and shown in whole digits") {
  struct Row {
    double ohm;
    double resolution;
  };
  for (const Row& row : {Row{0.3, 0.1}, Row{390.0, 0.1}, Row{500.0, 1.0}, Row{14400.0, 10e3}, Row{30e6, 10e3}}) {
    CAPTURE(row.ohm);
    MeterModel model{meter(), 1};
    const Display display = model.convert(Quantity::resistance, row.ohm);
    CHECK(display.state == ReadingState::finite);
    CHECK(display.resolution == row.resolution);
  }
}

TEST_CASE("Beyond the top range and on an open circuit the meter shows over-range") {
  MeterModel model{meter(), 1};
  for (const double ohm : {50e6, infinite}) {
    const Display display = model.convert(Quantity::resistance, ohm);
    CHECK(display.state == ReadingState::over_range);
    CHECK(display.full_scale == 40e6);
  }
}

TEST_CASE("Readings stay inside the accuracy of the definition for any seed") {
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    CAPTURE(seed);
    MeterModel model{meter(), seed};
    for (const double ohm : {0.2, 3.7, 200.0, 2000.0}) {
      const Display display = model.convert(Quantity::resistance, ohm);
      const double digits = display.resolution < 0.5 ? 3 : 2;
      CHECK(std::abs(display.value() - ohm) <= 0.008 * ohm + digits * display.resolution);
    }
  }
}

TEST_CASE("A steady value flickers by at most two digits so that a reading can settle") {
  MeterModel model{meter(), 7};
  std::int64_t least = 1'000'000;
  std::int64_t most = -1'000'000;
  for (int i = 0; i < 1000; ++i) {
    const auto counts = model.convert(Quantity::resistance, 123.45).counts;
    least = std::min(least, counts);
    most = std::max(most, counts);
  }
  CHECK(most - least >= 1);
  CHECK(most - least <= 2);
}

TEST_CASE("The same seed gives the same readings and another seed others") {
  const auto readings = [](std::uint64_t seed) {
    MeterModel model{meter(), seed};
    std::vector<std::int64_t> counts;
    for (int i = 0; i < 50; ++i) counts.push_back(model.convert(Quantity::voltage_ac, 120.0).counts);
    return counts;
  };
  CHECK(readings(5) == readings(5));
  CHECK(readings(5) != readings(6));
}

TEST_CASE("While the probes move the meter shows something between") {
  MeterModel model{meter(), 3};
  const Display before = model.convert(Quantity::resistance, 0.0);
  const Display between = model.convert_between(before, 300.0);
  CHECK(between.value() > 30.0);
  CHECK(between.value() < 270.0);
  const Display leaving = model.convert_between(before, infinite);
  CHECK(leaving.state == ReadingState::finite);
  CHECK(leaving.value() > 1e6);
}

TEST_CASE("Only DC shows a minus and an unknown quantity is not a number") {
  MeterModel model{meter(), 1};
  CHECK(model.convert(Quantity::voltage_dc, -1.5).counts < -1400);
  CHECK(model.convert(Quantity::frequency, 50.0).state == ReadingState::not_a_number);
  CHECK_FALSE(model.measures(Quantity::frequency));
  CHECK(model.measures(Quantity::continuity));  // borrows the lowest resistance range
  CHECK(model.convert(Quantity::continuity, 500.0).state == ReadingState::over_range);
}

}  // namespace switchwright::sim
