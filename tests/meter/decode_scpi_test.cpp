// SCPI answers. Number formats and special values: SCPI-1999 and IEEE 488.2 (published); prompts, echoes,
// words and appended units: common practice.
#include <doctest/doctest.h>

#include "decoder_bench.hpp"

using namespace switchwright;
using namespace switchwright::test;

namespace {

struct Row {
  Quantity selected;
  const char* line;
  const char* shows;  ///< empty: no reading
};

std::string shown(const Row& row) {
  const auto decoder = make_decoder(definition_of("scpi"));
  decoder->selected(row.selected);
  return text_of(decode(*decoder, std::string(row.line) + "\r\n"));
}

constexpr Quantity ohms = Quantity::resistance;
constexpr Quantity dc = Quantity::voltage_dc;

// One digit is the coarser of the last printed digit and the resolution of the range in the accuracy table.
const Row numbers[] = {
    {ohms, "+10000", "resistance 10000 step 1"},                   // NR1
    {dc, "-.00002", "voltage-dc -2e-05 step 1e-05"},               // NR2
    {ohms, "+2.73E+2", "resistance 273 step 1"},                   // NR3
    {ohms, "+1.01234567E+02", "resistance 101.234567 step 0.01"},  // 1 kohm range of the definition: 0.01 ohm
    {Quantity::resistance_4_wire, "+4.70000000E-02", "resistance-4-wire 0.047 step 0.001"},
    {Quantity::voltage_ac, "2.301e2", "voltage-ac 230.1 step 0.1"},
};

const Row specials[] = {
    {ohms, "+9.90000000E+37", "resistance over-range"},  // observed on an independent parser's example device
    {ohms, "9.9E37", "resistance over-range"},
    {dc, "-9.9E37", "voltage-dc over-range"},
    {ohms, "9.8999998E37", "resistance over-range"},  // float32
    {ohms, "9.91E37", "resistance not-a-number"},
    {ohms, "9.9100001E37", "resistance not-a-number"},  // float32
    {ohms, "OVLOAD", "resistance over-range"},
    {ohms, "ovload", "resistance over-range"},
    {ohms, "OVLD", "resistance over-range"},
    {ohms, "\"OL\"", "resistance over-range"},
    {ohms, "OVLD kOHM", "resistance over-range"},
    {ohms, "OL,OHM", "resistance over-range"},
};

const Row dialects[] = {
    {dc, "101.234e-3 V DC", "voltage-dc 0.101234 step 1e-05"},
    {ohms, "4.700 kOhm", "resistance 4700 step 1"},
    {ohms, "0.3 OHM", "resistance 0.3 step 0.1"},
    {ohms, "230.1 V AC", "voltage-ac 230.1 step 0.1"},  // the meter stands on volts: what it says outranks the request
    {ohms, "1.2 OHM", "resistance 1.2 step 0.1"},
    {ohms, "+1.2E3,OHM", "resistance 1200 step 100"},
    {ohms, "\"+1.2E3\"", "resistance 1200 step 100"},
    {ohms, "'+1.2E3','OHM'", "resistance 1200 step 100"},
    {ohms, "\"1.2E3,OHM\"", "resistance 1200 step 100"},
    {ohms, "1.20 KOHM", "resistance 1200 step 10"},
    {ohms, "1.20MOHM", "resistance 1200000 step 10000"},  // mega (IEEE 488.2)
    {ohms, "120.0 mOhm", "resistance 0.12 step 0.001"},
    {ohms, "+1.2E+0,OHM4W", "resistance-4-wire 1.2 step 0.1"},
    {ohms, "+1.2,OHM,+1.3,OHM", "resistance 1.2 step 0.1; resistance 1.3 step 0.1"},
    {ohms, "+2.30000E+02VAC", "voltage-ac 230 step 0.01"},
    {dc, "120 MV", "voltage-dc 0.12 step 0.001"},  // milli (IEEE 488.2)
    {ohms, "3> +4.7E+3", "resistance 4700 step 100"},
    {ohms, "=>+4.7E+3", "resistance 4700 step 100"},
    {ohms, "  +4.7E+3 ", "resistance 4700 step 100"},
    {ohms, "READ?", ""},
    {ohms, "3> read?", ""},
    {ohms, "", ""},
};

const Row refused[] = {
    {ohms, "-113,\"Undefined header;FOO:BAR?\"", ""},  // an answer to SYST:ERR?
    {ohms, "0,\"No error\"", ""},
    {ohms, "maker,model,0,1.0", ""},
    {ohms, "1.5,abc", ""},  // taken whole or not at all
    {ohms, "1.5,", ""},
    {ohms, "OHM", ""},
    {ohms, "OHM,1.5", ""},
    {ohms, "1.5,OHM,V,A", ""},
    {ohms, "\"1.5", ""},
    {ohms, "OL bananas", ""},
    {ohms, "1.2.3", ""},
    {ohms, "12e", ""},
    {ohms, "+-3", ""},
    {ohms, "1E99", ""},
    {ohms, "4.7 bananas", ""},
    {ohms, "147000300020", ""},  // a frame of another kind of meter, digits only
};

template <std::size_t n>
void check(const Row (&rows)[n]) {
  for (const Row& row : rows) {
    INFO(row.line);
    CHECK(shown(row) == row.shows);
  }
}

}  // namespace

TEST_CASE("SCPI numbers in all three forms are read with their last digit") { check(numbers); }
TEST_CASE("SCPI over-range and not-a-number stay apart") { check(specials); }
TEST_CASE("SCPI words units prompts and echoes are understood") { check(dialects); }
TEST_CASE("SCPI lines that are not readings give none") {
  check(refused);
  const auto decoder = make_decoder(definition_of("scpi"));
  decode(*decoder, "0,\"No error\"\n1.5,abc\n\x01\x02\n");
  CHECK(decoder->counts().accepted == 0);
  CHECK(decoder->counts().rejected.at("line that is not a reading") == 2);
  CHECK(decoder->counts().rejected.at("byte that is not text") == 1);
}

TEST_CASE("several SCPI readings in one line come out in their order") {
  const auto decoder = make_decoder(definition_of("scpi"));
  decoder->selected(Quantity::resistance);
  CHECK(text_of(decode(*decoder, "+1.0E+0,+2.0E+0,+9.90000000E+37\n")) ==
        "resistance 1 step 0.1; resistance 2 step 0.1; resistance over-range");
  CHECK(decoder->counts().accepted == 1);
}

TEST_CASE("a SCPI line that never ends is dropped and the next one is read") {
  const auto decoder = make_decoder(definition_of("scpi"));
  decode(*decoder, std::string(100000, '7'));
  CHECK(decoder->counts().rejected.at("line too long") == 1);
  CHECK(text_of(decode(*decoder, "7\n+1.5E+0\n")) == "resistance 1.5 step 0.1");
}
