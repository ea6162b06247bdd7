// What a person types from a display. Expected values: arithmetic on SI prefixes (BIPM, SI Brochure, table 7).
#include "switchwright/meter/typed.hpp"

#include <doctest/doctest.h>

#include "switchwright/core/error.hpp"

using namespace switchwright;

TEST_CASE("a typed reading is the display's value, with one digit of the display as its resolution") {
  struct Row {
    const char* text;
    Quantity dial;
    double value;
    double resolution;
  };
  const Row rows[] = {
      {"47.2 ohm", Quantity::resistance, 47.2, 0.1},      {"1.250kohm", Quantity::resistance, 1250.0, 1.0},
      {"0,35 ohm", Quantity::resistance, 0.35, 0.01},     {"4.7 Mohm", Quantity::resistance, 4.7e6, 1e5},
      {"230.1 V", Quantity::voltage_ac, 230.1, 0.1},      {"12 mV", Quantity::voltage_dc, 0.012, 0.001},
      {"230 V AC", Quantity::voltage_ac, 230.0, 1.0},     {"-0.02 V", Quantity::voltage_dc, -0.02, 0.01},
      {"3.3 k\u03A9", Quantity::resistance, 3300, 100.0}, {"0.1 Ohm", Quantity::continuity, 0.1, 0.1},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    const Reading reading = read_typed(row.text, row.dial, {});
    CHECK(reading.finite());
    CHECK(reading.value == doctest::Approx(row.value));
    CHECK(reading.resolution == doctest::Approx(row.resolution));
    CHECK(reading.quantity == row.dial);
    CHECK(reading.raw.starts_with("typed: "));
    CHECK_FALSE(reading.flags.autorange);
  }
}

TEST_CASE("an overload is typed as the display shows it and promises no range") {
  for (const char* text : {"OL", "O.L", "ol", " 0L ", ".OL"}) {
    CAPTURE(text);
    const Reading reading = read_typed(text, Quantity::resistance, {});
    CHECK(reading.state == ReadingState::over_range);
    CHECK_FALSE(reading.beyond);
  }
}

TEST_CASE("what is no reading of this dial is refused and never guessed") {
  for (const char* text : {"", "47.2", "ohm", "47.2 V", "47.2 furlong", "1,234.5 ohm", "1,200 ohm", "12 ohm ohm",
                           "1e3 ohm", "47.2 ohm AC", "- ohm", "nan ohm", "inf ohm"}) {
    CAPTURE(text);
    CHECK_THROWS_AS((void)read_typed(text, Quantity::resistance, {}), Error);
  }
  CHECK_THROWS_AS((void)read_typed("230 V DC", Quantity::voltage_ac, {}), Error);
}

TEST_CASE("a step that the display does not have is a slip of the pen") {
  const MeterDefinition meter =
      typed_definition("typed:lcd", {{std::string(SOURCE_DIR) + "/meters"}});  // 0.1 ohm digits
  const auto checked = [&](const char* text, Quantity quantity) {
    require_step_of(meter, read_typed(text, quantity, {}), text);
  };
  for (const char* text : {"0.5 mohm", "0.05 ohm", "120 uohm"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(checked(text, Quantity::resistance), Error);
  }
  for (const char* text : {"0.5 Mohm", "0.1 ohm", "3 ohm", "OL", "1.200 kohm"}) checked(text, Quantity::resistance);
  checked("0.1 mV", Quantity::voltage_dc);
}

TEST_CASE("typed:lcd takes the accuracy of the one definition that begins so, and typed alone has none") {
  const SearchPath shipped{{std::string(SOURCE_DIR) + "/meters"}};
  const MeterDefinition known = typed_definition("typed:lcd", shipped);
  CHECK(known.id == "typed:lcd-segment-14");
  CHECK_FALSE(known.accuracy.empty());
  CHECK_FALSE(known.poll);
  CHECK(typed_definition("typed", shipped).accuracy.empty());
  CHECK_THROWS_AS((void)typed_definition("typed:ascii", shipped), Error);  // more than one
  CHECK_THROWS_AS((void)typed_definition("typed:", shipped), Error);
}
