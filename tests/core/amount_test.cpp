#include "switchwright/core/amount.hpp"

#include <doctest/doctest.h>

#include <string>

#include "switchwright/core/error.hpp"

using namespace switchwright;

TEST_CASE("a number is read with its unit, with a blank before it, with a decimal comma") {
  struct Row {
    const char* text;
    Amount amount;
    double value;
  };
  // Conversions by definition: 1 inch is 25.4 mm, degree Fahrenheit = 9/5 C + 32, 1 min is 60 s.
  const Row rows[] = {
      {"240", Amount::volts, 240.0},
      {"240V", Amount::volts, 240.0},
      {" 240 v ", Amount::volts, 240.0},
      {"240,5", Amount::volts, 240.5},
      {"0,24kV", Amount::volts, 240.0},
      {"240.5 VAC", Amount::volts, 240.5},
      {"1,234V", Amount::volts, -1.0},  // thousands or decimals: refused
      {"0,250", Amount::inches, 0.25},
      {"15 A", Amount::amperes, 15.0},
      {"250 mA", Amount::amperes, 0.25},
      {"2.8 kW", Amount::watts, 2800.0},
      {"2.8 KW", Amount::watts, 2800.0},
      {"21ohm", Amount::ohms, 21.0},
      {"4.7 k\u03A9", Amount::ohms, 4700.0},
      {"40M", Amount::ohms, 4e7},
      {"5 mohm", Amount::ohms, 0.005},
      {"5 Mohm", Amount::ohms, 5e6},
      {"90s", Amount::seconds, 90.0},
      {"15m", Amount::seconds, 900.0},
      {"1.5h", Amount::seconds, 5400.0},
      {"1 h 30 min", Amount::seconds, 5400.0},
      {"15min20s", Amount::seconds, 920.0},
      {"300 ms", Amount::seconds, 0.3},
      {"-5", Amount::celsius, -5.0},
      {"\u2212"
       "5 \u00B0C",
       Amount::celsius, -5.0},
      {"73.4F", Amount::celsius, 23.0},
      {"6.35mm", Amount::inches, 0.25},
      {"0.250\"", Amount::inches, 0.25},
      {"5%", Amount::percent, 5.0},
      {"90 %", Amount::share, 0.9},
      {"4/s", Amount::hertz, 4.0},
      {"1e3", Amount::ohms, 1000.0},
      {"+.5", Amount::number, 0.5},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    if (row.value == -1.0)
      CHECK_THROWS_AS(read_amount(row.text, row.amount, {}), Error);
    else
      CHECK(read_amount(row.text, row.amount, {}) == doctest::Approx(row.value));
  }
}

TEST_CASE("what is refused says why and how to write it") {
  struct Row {
    const char* text;
    Amount amount;
    const char* says;
  };
  const Row rows[] = {
      {"", Amount::volts, "there is no number"},
      {"volts", Amount::volts, "does not begin with a number"},
      {"15A", Amount::volts, "A is a unit of current"},
      {"240x", Amount::volts, "\"x\" is no unit of voltage"},
      {"1.234,5", Amount::volts, "signs between the thousands"},
      {"2 400", Amount::volts, "blank inside the number"},
      {"1,234", Amount::volts, "comma may part thousands"},
      {"5 MV", Amount::volts, "no unit of voltage"},
      {"nan", Amount::volts, "does not begin with a number"},
      {"inf", Amount::volts, "does not begin with a number"},
      {"1e999", Amount::volts, "cannot be read"},
      {"0x10", Amount::volts, "no unit of voltage"},
      {"5m 2h", Amount::seconds, "more than one number"},
      {"1h -5m", Amount::seconds, "no unit of time"},
      {"-240", Amount::volts, "must be more than 0 V"},
      {"2h", Amount::seconds, "at most 1 min 00 s"},
      {"0.5ohm", Amount::number, "is a unit of resistance"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    std::string said;
    try {
      const AmountRange above_nothing{0.0, row.amount == Amount::seconds ? 60.0 : 1e9, true};
      read_amount(row.text, row.amount, above_nothing, "--it");
    } catch (const Error& error) {
      said = error.what();
    }
    CHECK(said.find(row.says) != std::string::npos);
    CHECK(said.find("--it") == 0);
    CHECK(said.find("write it like") != std::string::npos);
  }
}

TEST_CASE("counts are whole, not negative and inside their limits") {
  CHECK(read_count("20", 1, 100) == 20);
  CHECK(read_count("20 cycles", 1, 100, "cycle") == 20);
  CHECK(read_count("1cycle", 1, 100, "cycle") == 1);
  for (const char* wrong :
       {"", "-5", "2.5", "1e2", "0", "101", "20 apples", "99999999999999999999999", "0x10", "20 cycle x"}) {
    CAPTURE(wrong);
    CHECK_THROWS_AS(read_count(wrong, 1, 100, "cycle"), Error);
  }
}

TEST_CASE("a date is a day of the calendar") {
  for (const char* good : {"2026-01-31", "2024-02-29", "1900-01-01", "9999-12-31"}) CHECK(is_calendar_date(good));
  for (const char* wrong : {"", "2026-02-30", "2025-02-29", "2026-13-01", "2026-00-10", "2026-1-31", "31.01.2026",
                            "1899-12-31", "2026-01-31 ", "2026-01-3x"}) {
    CAPTURE(wrong);
    CHECK_FALSE(is_calendar_date(wrong));
  }
}

TEST_CASE("the kind of an amount is known by its unit alone") {
  CHECK(unit_kind_of("2.8 kW") == Amount::watts);
  CHECK(unit_kind_of("15A") == Amount::amperes);
  CHECK(unit_kind_of("21 ohm") == Amount::ohms);
  CHECK_FALSE(unit_kind_of("21"));
  CHECK_FALSE(unit_kind_of("21x"));
}
