// Some good frames of every shipped definition, as streams for the tests that cut, damage and mix them. What
// they show is checked in decoder_test.cpp.
#pragma once

#include <string>
#include <vector>

#include "hex.hpp"

namespace switchwright::test {

struct WorkedFrames {
  std::string definition;
  std::vector<std::string> frames;
};

inline const std::vector<WorkedFrames>& worked_frames() {
  static const std::vector<WorkedFrames> all{
      {"ascii-nibble-11", {"11234;40:\r\n", "32301;006\r\n", "204703002\r\n", "540003102\r\n"}},
      {"ascii-nibble-14",
       {"012345;400:0\r\n", "223010;00060\r\n", "147000300020\r\n", "622000310020\r\n",
        from_hex("31 34 37 B0 B0 B0 B3 B0 B0 B0 32 B0 0D 8A")}},
      {"ascii-status-14",
       {from_hex("2D 31 32 33 34 20 31 30 00 00 80 8C 0D 0A"), from_hex("2B 34 37 30 30 20 31 20 00 20 20 0D 0D 0A"),
        from_hex("2B 3F 30 3A 3F 20 32 20 00 10 20 00 0D 0A")}},
      {"framed-text-16",
       {"\x02"
        "41341200001234\r",
        "\x02"
        "41390300004700\r"}},
      {"lcd-segment-14",
       {from_hex("17 28 35 4D 5B 61 7F 82 97 A0 B0 C0 D4 E0"), from_hex("1B 25 3B 41 5F 67 7D 88 95 A0 B0 C0 D4 E0"),
        from_hex("13 20 30 47 5D 6E 78 80 90 A0 B2 C4 D0 E0")}},
      {"scpi", {"+1.01234567E+02\r\n", "+9.90000000E+37\r\n", "-.00002\n", "OVLOAD\r\n"}},
      {"text-14", {"DC -1.234   V\r", "OH  4.700KOhm\r", "OH   O.L MOhm\r"}},
      {"text-line-units", {"2 DCV -1.2345 mV\r\n", "\"1 OHM 4.700 kOhm\"\r\n"}},
  };
  return all;
}

}  // namespace switchwright::test
