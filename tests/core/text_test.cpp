#include "switchwright/core/text.hpp"

#include <doctest/doctest.h>

using namespace switchwright;

TEST_CASE("a tag is the same whatever its blanks and capitals") {
  CHECK(same_tag("A 17", "a17"));
  CHECK(same_tag(" a17\t", "A17"));
  CHECK_FALSE(same_tag("A17", "A-17"));
  CHECK_FALSE(same_tag("A17", "A1"));
}

TEST_CASE("near names find a typing mistake and nothing far away") {
  CHECK(suggestion("spci", {"scpi", "lcd-segment-14"}) == "did you mean \"scpi\"?");
  CHECK(suggestion("regulator-shunt-204", {"regulator-shunt-240", "scpi"}) == "did you mean \"regulator-shunt-240\"?");
  CHECK(suggestion("zebra", {"scpi"}) == "known: scpi");
}

TEST_CASE("sentences end once, whatever they are made of") {
  CHECK(full_stop("the contact is open") == "the contact is open.");
  CHECK(full_stop("The contact is open.") == "The contact is open.");
  CHECK(full_stop("did you mean \"scpi\"?") == "did you mean \"scpi\"?");
  CHECK(full_stop("").empty());
  CHECK(sentences({"undecided: No switching in 3 min.", "", "Trace again"}) ==
        "undecided: No switching in 3 min. Trace again.");
  CHECK(sentences({}).empty());
}

TEST_CASE("values for people keep the digits that the meter showed") {
  CHECK(human_value(14400, Quantity::resistance, 10) == "14.40 kohm");
  CHECK(human_value(0.3, Quantity::resistance, 0.1) == "0.3 ohm");
  CHECK(human_value(0.05, Quantity::resistance, 0.01) == "0.05 ohm");
  CHECK(human_value(0.0123, Quantity::voltage_ac, 1e-4) == "12.3 mV");
  CHECK(human_value(-0.04, Quantity::resistance, 0.1) == "0.0 ohm");
  CHECK(human_value(-0.06, Quantity::resistance, 0.1) == "-0.1 ohm");
  CHECK(human_ohm(1e6) == "1 Mohm");
}

TEST_CASE("text from outside cannot drive a terminal") {
  CHECK(terminal_safe("a\x1b[2Jb\x07") == "a [2Jb ");
  CHECK(terminal_safe("caf\xC3\xA9") == "caf\xC3\xA9");
  CHECK(terminal_safe("x\xC2\x9Bm") == "x m");
}
