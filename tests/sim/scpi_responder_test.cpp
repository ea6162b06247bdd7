// What a tool meets on a SCPI meter. Behaviour: SCPI-1999 volumes 1 and 2, IEEE 488.2; rows marked "run" were
// observed on an independent SCPI parser library's example device.
#include <doctest/doctest.h>

#include <string>

#include "sim/encoder.hpp"

namespace switchwright::sim {

namespace {

Display shows(Quantity quantity, std::int64_t counts, double resolution = 0.001) {
  return {.quantity = quantity, .counts = counts, .resolution = resolution, .full_scale = 1e6};
}

/// A meter on the bench: one conversion of 4.7 ohm is ready whenever one is awaited.
std::string answer_to(Encoder& meter, const std::string& message) {
  std::string answer = meter.asked(message + "\n");
  for (int i = 0; i < 5; ++i) answer += meter.shown(shows(*meter.function(), 4700));
  return answer;
}

std::unique_ptr<Encoder> scpi() {
  MeterDefinition definition;
  definition.id = "scpi";
  return scpi_responder(definition);
}

}  // namespace

TEST_CASE("Each SCPI message gets the answer that the standard gives it") {
  struct Row {
    const char* message;
    const char* answer;
    const char* error;  // what SYST:ERR? says afterwards
  };
  const Row rows[] = {
      // message            answer                    error                     source
      {"SYST:ERR?", "0,\"No error\"\n", ""},                         // SCPI-1999 21.8
      {"syst:err:next?", "0,\"No error\"\n", ""},                    // headers ignore case
      {"SYSTem:ERRor?", "0,\"No error\"\n", ""},                     // long form
      {"SYSTE:ERR?", "", "-113,\"Undefined header;SYSTE:ERR?\"\n"},  // nothing between short and long
      {"FOO:BAR?", "", "-113,\"Undefined header;FOO:BAR?\"\n"},      // run
      {"READ?", "+4.70000000E+00\n", ""},                            // SD.DDDDDDDDESDD
      {"MEAS:RES?", "+4.70000000E+00\n", ""},                        // = CONF + READ?
      {"MEAS:FRES? 1", "+9.90000000E+37\n", ""},                     // run: over range, no error queued
      {"CONF:RES", "", ""},                                          // a command answers nothing
      {":CONF:VOLT:AC;:CONF?", "\"VOLT:AC\"\n", ""},                 // quoted short form
      {"FUNC \"VOLTage:AC\";:FUNC?", "\"VOLT:AC\"\n", ""},           // SENSe may be left out
      {"SENSe:FUNCtion 'RES';FUNCtion?", "\"RES\"\n", ""},           // relative to SENSe
      {"*OPC?;*TST?", "1;0\n", ""},                                  // answers joined by ;
      {"*IDN?;SYST:ERR?;MEAS:VOLT?", "Simulated,Bench meter scpi,0,1;0,\"No error\"\n",
       "-113,\"Undefined header;MEAS:VOLT?\"\n"},                // run: relative header
      {"FETC?", "", "-230,\"Data corrupt or stale\"\n"},         // nothing measured yet
      {"READ?;FETC?", "+4.70000000E+00;+4.70000000E+00\n", ""},  // FETC? repeats
      {"FUNC", "", "-109,\"Missing parameter\"\n"},              // IEEE 488.2 / SCPI-1999 21.8.9
      {"CONF:RES abc", "", "-104,\"Data type error\"\n"},
      {"CONF:RES -1", "", "-222,\"Data out of range\"\n"},
      {"  SYST:REM \r", "", ""},  // CR counts as white space
      {"", "", ""},
  };
  for (const Row& row : rows) {
    CAPTURE(row.message);
    const auto meter = scpi();
    CHECK(answer_to(*meter, row.message) == row.answer);
    const std::string error = row.error;
    CHECK(answer_to(*meter, "SYST:ERR?") == (error.empty() ? "0,\"No error\"\n" : error));
  }
}

TEST_CASE("READ waits for the next conversion and what is sent meanwhile waits behind it") {
  const auto meter = scpi();
  CHECK(meter->asked("CONF:RES\nREAD?\n*OPC?\n").empty());
  CHECK(meter->function() == Quantity::resistance);
  CHECK(meter->shown(shows(Quantity::resistance, 14'400'000)) == "+1.44000000E+04\n1\n");
  CHECK(meter->shown(shows(Quantity::resistance, 14'400'000)).empty());
}

TEST_CASE("Special values are those of SCPI-1999 7.2.1") {
  const auto meter = scpi();
  meter->asked("READ?\n");
  Display display = shows(Quantity::voltage_dc, 0);
  display.state = ReadingState::over_range;
  CHECK(meter->shown(display) == "+9.90000000E+37\n");
  meter->asked("READ?\n");
  display.state = ReadingState::not_a_number;
  CHECK(meter->shown(display) == "+9.91000000E+37\n");
}

TEST_CASE("A command may arrive in pieces and a line without an end is bounded") {
  const auto meter = scpi();
  CHECK(meter->asked("SYST:").empty());
  CHECK(meter->asked("ERR?\r").empty());
  CHECK(meter->asked("\n") == "0,\"No error\"\n");
  CHECK(meter->asked(std::string(100'000, 'x')).empty());
  CHECK(meter->asked("\nSYST:ERR?\n") == "-363,\"Input buffer overrun\"\n");
}

TEST_CASE("The error queue overflows with -350 as its last entry") {
  const auto meter = scpi();
  for (int i = 0; i < 30; ++i) meter->asked("NONSENSE\n");
  std::string last;
  for (int i = 0; i < 20; ++i) last = meter->asked("SYST:ERR?\n");
  CHECK(last == "-350,\"Queue overflow\"\n");
  CHECK(meter->asked("SYST:ERR?\n") == "0,\"No error\"\n");
}

}  // namespace switchwright::sim
