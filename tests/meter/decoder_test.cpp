// Every worked frame that our sources give, against what the source says it shows.
#include "switchwright/meter/decoder.hpp"

#include <doctest/doctest.h>

#include "decoder_bench.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;
using namespace switchwright::test;

namespace {

struct Row {
  const char* definition;
  const char* hex;  ///< nullptr: `text` holds the frame
  const char* text;
  const char* shows;  ///< quantity, value in SI units, one digit, flags
};

// Source of the frames: computed by hand from the chip tables (no capture); the display text in the comment
// is what the table says the frame shows. Numbers and units follow from the display text alone.
const Row rows[] = {
    // -1.234 V DC AUTO
    {"lcd-segment-14", "17 28 35 4D 5B 61 7F 82 97 A0 B0 C0 D4 E0", nullptr, "voltage-dc -1.234 step 0.001 auto"},
    // 12.34 V DC AUTO
    {"lcd-segment-14", "17 20 35 45 5B 69 7F 82 97 A0 B0 C0 D4 E0", nullptr, "voltage-dc 12.34 step 0.01 auto"},
    // 230.1 V AC AUTO
    {"lcd-segment-14", "1B 25 3B 41 5F 67 7D 88 95 A0 B0 C0 D4 E0", nullptr, "voltage-ac 230.1 step 0.1 auto"},
    // 0056 mV DC, manual range
    {"lcd-segment-14", "15 27 3D 47 5D 63 7E 87 9E A0 B8 C0 D4 E0", nullptr, "voltage-dc 0.056 step 0.001"},
    // 4.700 kohm AUTO
    {"lcd-segment-14", "13 22 37 49 55 67 7D 87 9D A2 B0 C4 D0 E0", nullptr, "resistance 4700 step 1 auto"},
    // " 0.L " Mohm AUTO
    {"lcd-segment-14", "13 20 30 47 5D 6E 78 80 90 A0 B2 C4 D0 E0", nullptr, "resistance over-range step 10000 auto"},
    // " 0.L " Mohm, the same in a fixed range: two decimals of 4000 counts are 40 Mohm
    {"lcd-segment-14", "11 20 30 47 5D 6E 78 80 90 A0 B2 C4 D0 E0", nullptr,
     "resistance over-range step 10000 beyond 4e+07"},
    // 50.00 Hz
    {"lcd-segment-14", "13 23 3E 47 5D 6F 7D 87 9D A0 B0 C0 D2 E0", nullptr, "frequency 50 step 0.01 auto"},
    // 000.3 ohm, beeper
    {"lcd-segment-14", "11 27 3D 47 5D 67 7D 89 9F A0 B1 C4 D0 E0", nullptr, "continuity 0.3 step 0.1"},
    // 4.700 kohm AUTO with HOLD, relative and low battery (bits 12.0, 12.1, 13.0 of the table)
    {"lcd-segment-14", "13 22 37 49 55 67 7D 87 9D A2 B0 C7 D1 E0", nullptr,
     "resistance 4700 step 1 auto hold relative low-battery"},

    {"ascii-nibble-14", nullptr, "012345;400:0\r\n", "voltage-dc -1.2345 step 0.0001 auto"},
    {"ascii-nibble-14", nullptr, "223010;00060\r\n", "voltage-ac 230.1 step 0.01 auto"},
    {"ascii-nibble-14", nullptr, "147000300020\r\n", "resistance 4700 step 0.1 auto"},
    {"ascii-nibble-14", nullptr, "622000310020\r\n", "resistance over-range step 10000 beyond 2.2e+08 auto"},
    // the same line opened with eight bits: LF carries its parity bit and so does every byte with an even
    // count of ones
    {"ascii-nibble-14", "31 34 37 B0 B0 B0 B3 B0 B0 B0 32 B0 0D 8A", nullptr, "resistance 4700 step 0.1 auto"},
    // status bit 1, option1 bits 3 and 1, option4 bit 1 of the table
    {"ascii-nibble-14", nullptr, "00003032:022\r\n", "resistance 0.3 step 0.01 auto hold relative low-battery min-max"},

    // -1.234 V DC AUTO, computed from the published table
    {"ascii-status-14", "2D 31 32 33 34 20 31 30 00 00 80 8C 0D 0A", nullptr, "voltage-dc -1.234 step 0.001 auto"},
    // the point as a bare number in place of an ASCII digit
    {"ascii-status-14", "2D 31 32 33 34 20 01 30 00 00 80 8C 0D 0A", nullptr, "voltage-dc -1.234 step 0.001 auto"},
    // 230.1 V AC AUTO
    {"ascii-status-14", "2B 32 33 30 31 20 34 28 00 00 80 17 0D 0A", nullptr, "voltage-ac 230.1 step 0.1 auto"},
    // 4.700 kohm AUTO; the bar graph byte is CR, the byte before it a LF would be: not a line end
    {"ascii-status-14", "2B 34 37 30 30 20 31 20 00 20 20 0D 0D 0A", nullptr, "resistance 4700 step 1 auto"},
    // over-range, two decimals, Mohm
    {"ascii-status-14", "2B 3F 30 3A 3F 20 32 20 00 10 20 00 0D 0A", nullptr, "resistance over-range step 10000 auto"},
    // 000.3 ohm beeper, hold, low battery, MAX
    {"ascii-status-14", "2B 30 30 30 33 20 33 02 24 08 20 00 0D 0A", nullptr,
     "continuity 0.3 step 0.1 hold low-battery min-max"},
    // 12.34 nF
    {"ascii-status-14", "2B 31 32 33 34 20 32 20 02 00 04 00 0D 0A", nullptr, "capacitance 1.234e-08 step 1e-11 auto"},
    // 77.0 degF is 25 degC
    {"ascii-status-14", "2B 30 37 37 30 20 33 00 00 00 01 00 0D 0A", nullptr, "temperature 25 step 0.0555556"},

    // computed from the published range, function and status tables; DC, AC, AUTO bits from memory
    {"ascii-nibble-11", nullptr, "11234;40:\r\n", "voltage-dc -1.234 step 0.001 auto"},
    {"ascii-nibble-11", nullptr, "32301;006\r\n", "voltage-ac 230.1 step 0.1 auto"},
    {"ascii-nibble-11", nullptr, "204703002\r\n", "resistance 4700 step 10 auto"},
    {"ascii-nibble-11", nullptr, "540003102\r\n", "resistance over-range step 10000 beyond 4e+07 auto"},
    {"ascii-nibble-11", nullptr, "000035000\r\n", "continuity 0.3 step 0.1"},

    // the four lines of the reference; columns from memory
    {"text-14", nullptr, "DC -1.234   V\r", "voltage-dc -1.234 step 0.001"},
    {"text-14", nullptr, "AC  230.1   V\r", "voltage-ac 230.1 step 0.1"},
    {"text-14", nullptr, "OH  4.700KOhm\r", "resistance 4700 step 1"},
    {"text-14", nullptr, "OH   O.L MOhm\r", "resistance over-range"},

    // -12.34 V DC, the frame of the reference
    {"framed-text-16", "02 34 31 33 34 31 32 30 30 30 30 31 32 33 34 0D", nullptr, "voltage-dc -12.34 step 0.01"},
    // 4.700 kohm: unit 39, plus, three decimals
    {"framed-text-16", nullptr,
     "\x02"
     "41390300004700\r",
     "resistance 4700 step 1"},

    // the two lines of the reference, with and without the quotes
    {"text-line-units", nullptr, "\"2 DCV -1.2345 mV\"\r\n", "voltage-dc -0.0012345 step 1e-07"},
    {"text-line-units", nullptr, "1 OHM 4.700 kOhm\r\n", "resistance 4700 step 1"},
};

}  // namespace

TEST_CASE("worked frames show what their source says") {
  for (const Row& row : rows) {
    const std::string frame = row.hex ? from_hex(row.hex) : row.text;
    const MeterDefinition definition = definition_of(row.definition);
    INFO(row.definition << " " << to_hex(frame));

    const auto decoder = make_decoder(definition);
    const auto readings = decode(*decoder, frame);
    CHECK(text_of(readings) == row.shows);
    REQUIRE(readings.size() == 1);
    CHECK(readings[0].raw == frame);
    CHECK(decoder->counts().accepted == 1);
    CHECK(decoder->counts().rejected_total() == 0);
    CHECK(decoder->counts().skipped_bytes == 0);

    CHECK(text_of(decode_byte_by_byte(*make_decoder(definition), frame)) == row.shows);
  }
}

TEST_CASE("a field of a pattern ends at the character behind it whether or not blanks come first") {
  const MeterDefinition definition = parse_meter_definition(
      "schema = 1\ntitle = \"t\"\nprovenance = \"invented\"\n[decoder]\nkind = \"line-pattern\"\n"
      "pattern = \"[{function} ]= {value} {unit}\"\n[decoder.functions]\nOHMS = \"resistance\"\nVAC = "
      "\"voltage-ac\"\n"
      "[decoder.units]\nk = \"kohm\"\nV = \"V\"\n[decoder.words]\n\"-OL-\" = \"over-range\"\n",
      "bracket-line.toml");
  const auto decoder = make_decoder(definition);
  CHECK(text_of(decode(*decoder, "[OHMS]=  4.70 k\r\n[VAC ]= 230.1 V\r\n[OHMS]= -OL-  k\r\n[VAC ]= 230.1\r\n")) ==
        "resistance 4700 step 10; voltage-ac 230.1 step 0.1; resistance over-range");
  // What was rejected first is kept, so that a person sees which line the definition does not cover.
  CHECK(decoder->counts().examples.at("line that does not fit the pattern") == "[VAC ]= 230.1");
}
