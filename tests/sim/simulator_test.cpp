// The simulated bench as the tool meets it: through the line and the hands socket only.
#include "switchwright/sim/simulator.hpp"

#include <doctest/doctest.h>
#include <sys/stat.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>

#include "bench_time.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/hands/hands.hpp"
#include "switchwright/meter/decoder.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::sim {

namespace {

/// Two contacts and a heater across the load; figures invented.
Profile regulator() {
  return parse_profile(R"(
schema = 1
title = "test regulator"
values = "invented for demonstration"
[rating]
voltage_v = 240
current_a = 15
[terminals]
names = ["L1", "L2", "H1", "H2", "P"]
exposed_metal = ["CASE"]
[[position]]
id = "off"
angle_deg = 0
[[position]]
id = "low"
angle_deg = 60
[[position]]
id = "high"
angle_deg = 270
[[contact]]
id = "line"
between = ["L1", "H1"]
closed_at = ["low", "high"]
[[contact]]
id = "pilot"
between = ["L1", "P"]
closed_at = ["low", "high"]
[[contact]]
id = "cycling"
between = ["L2", "H2"]
cycles_at = ["low"]
closed_at = ["high"]
[[element]]
id = "heater"
between = ["H1", "H2"]
nominal_ohm = 14400
tolerance_pct = 15
[limits]
closed_max_ohm = 2.0
sound_max_ohm = 0.1
open_min_ohm = 1e6
)",
                       "test.toml");
}

/// A six-and-a-half digit bench meter; figures invented.
MeterDefinition scpi_meter() {
  MeterDefinition definition;
  definition.id = "scpi";
  definition.decoder.kind = "scpi";
  for (const Quantity quantity : {Quantity::resistance, Quantity::resistance_4_wire})
    for (const double full_scale : {100.0, 1e3, 1e4, 1e5, 1e6, 1e7})
      definition.accuracy.push_back({quantity, full_scale, full_scale * 1e-6, 0.01, 40});
  for (const Quantity quantity : {Quantity::voltage_dc, Quantity::voltage_ac})
    for (const double full_scale : {1.0, 10.0, 100.0, 1000.0})
      definition.accuracy.push_back({quantity, full_scale, full_scale * 1e-6, 0.01, 40});
  return definition;
}

/// The hand-held meter's own frame through a table: only the digits matter here, so an ohms-only nibble meter
/// will do.
MeterDefinition dial_meter() {
  MeterDefinition definition;
  definition.id = "nibble";
  definition.decoder.kind = "ascii-nibble-14";
  definition.decoder.tables["functions"] = {{"3", "resistance"}, {";", "voltage"}};
  definition.decoder.tables["ranges"] = {
      {"30", "220.00 ohm"}, {"32", "22.000 kohm"}, {"36", "220.00 Mohm"}, {";4", "220.00 mV"}, {";2", "220.00 V"}};
  definition.decoder.tables["symbols"] = {{"status.0", "over-range"},
                                          {"status.2", "minus"},
                                          {"option3.1", "auto"},
                                          {"option3.2", "ac"},
                                          {"option3.3", "dc"}};
  definition.accuracy = {{Quantity::resistance, 220, 0.01, 0.5, 10},
                         {Quantity::resistance, 22e3, 1, 0.5, 5},
                         {Quantity::resistance, 220e6, 10e3, 2, 20},
                         {Quantity::voltage_ac, 0.22, 1e-5, 1, 10},
                         {Quantity::voltage_ac, 220, 0.01, 1, 10}};
  return definition;
}

SimulatorSettings fast() {
  SimulatorSettings settings;
  settings.rate_hz = 1000.0;
  return settings;
}

struct BenchTop {
  explicit BenchTop(const MeterDefinition& meter = scpi_meter(), const SimulatorSettings& settings = fast(),
                    const Profile& profile = regulator())
      : simulator(loop, clock, profile, meter, settings),
        line(RawEnd::device(simulator.port())),
        hands(RawEnd::unix_socket(simulator.hands_socket())) {}

  /// The one answer to one line from the hands.
  std::string told(const std::string& message) {
    hands.forget();
    hands.write(message + "\n");
    turn_until(loop, [&] { return hands.received().find('\n') != std::string::npos; });
    return hands.received().substr(0, hands.received().find('\n'));
  }
  /// The number that a SCPI command brings back.
  double asked(const std::string& command) {
    line.forget();
    line.write(command + "\n");
    turn_until(loop, [&] { return line.received().find('\n') != std::string::npos; });
    return std::strtod(line.received().c_str(), nullptr);
  }
  /// The next whole frame of a meter that sends by itself.
  std::string next_frame() {
    line.forget();
    turn_until(loop, [&] { return lines_of(line.received()).size() >= 2; });
    return lines_of(line.received()).back();
  }

  SystemClock clock;
  Loop loop;
  Simulator simulator;
  RawEnd line;
  RawEnd hands;
};

std::string placed(const std::string& first, const std::string& second, const std::string& position) {
  return R"({"id":1,"probes":"pair","pair":[")" + first + R"(",")" + second + R"("],"position":")" + position +
         R"(","dial":"resistance"})";
}

constexpr double overload = 9.9e37;  // SCPI-1999 7.2.1

}  // namespace

TEST_CASE("The meter shows what the network has between the probes plus the leads") {
  struct Row {
    const char* first;
    const char* second;
    const char* position;
    double ohm;  // by hand from the wiring: closed contact 0.012, heater 14400, leads 0.12
  };
  const Row rows[] = {
      {"L1", "H1", "off", overload},    {"L1", "H1", "low", 0.132},     {"P", "H1", "low", 0.144},
      {"H1", "H2", "off", 14400.12},    {"L2", "H2", "low", 0.132},     {"L1", "L2", "high", 14400.144},
      {"L1", "CASE", "high", overload}, {"L2", "P", "high", 14400.156},
  };
  BenchTop bench;
  for (const Row& row : rows) {
    CAPTURE(row.first);
    CAPTURE(row.second);
    CAPTURE(row.position);
    CHECK(bench.told(placed(row.first, row.second, row.position)) == R"({"id":1,"done":true})");
    const double ohm = bench.asked("MEAS:RES?");
    if (row.ohm == overload)
      CHECK(ohm == overload);
    else
      CHECK(std::abs(ohm - row.ohm) <= 0.0001 * row.ohm + 0.005 + row.ohm * 1e-5);
  }
}

TEST_CASE("Shorted probes show the leads alone and probes off show over-range") {
  BenchTop bench;
  bench.told(R"({"id":1,"probes":"shorted"})");
  CHECK(bench.asked("MEAS:RES?") == doctest::Approx(0.12).epsilon(0.05));
  CHECK(std::abs(bench.asked("MEAS:FRES?")) < 0.005);
  bench.told(R"({"id":2,"probes":"off"})");
  CHECK(bench.asked("MEAS:RES?") == overload);
}

TEST_CASE("The known source is seen on volts and a dead switch shows a few millivolts at most") {
  BenchTop bench;
  bench.told(R"({"id":1,"probes":"known-source"})");
  CHECK(bench.asked("MEAS:VOLT:AC?") == doctest::Approx(24.0).epsilon(0.001));
  CHECK(bench.asked("MEAS:VOLT:DC?") == doctest::Approx(SimulatorSettings{}.known_source_dc_v).epsilon(0.001));
  CHECK(bench.asked("MEAS:RES?") == overload);
  bench.told(placed("L1", "H1", "low"));
  CHECK(std::abs(bench.asked("MEAS:VOLT:DC?")) < 0.01);
  CHECK(std::abs(bench.asked("MEAS:VOLT:AC?")) < 0.01);
}

TEST_CASE("Each fault shows at the probes") {
  struct Row {
    Fault fault;
    const char* first;
    const char* second;
    const char* position;
    double ohm;
  };
  const Row rows[] = {
      {{FaultKind::stuck_closed, "cycling", "", {}}, "L2", "H2", "off", 0.132},
      {{FaultKind::stuck_open, "line", "", {}}, "L1", "P", "low", 0.132},
      {{FaultKind::stuck_open, "line", "", {}}, "L1", "H1", "low", overload},
      {{FaultKind::resistive, "line", "", 5.0}, "L1", "H1", "low", 5.12},
      {{FaultKind::open, "heater", "", {}}, "H1", "H2", "off", overload},
      {{FaultKind::shorted, "heater", "", {}}, "H1", "H2", "off", 0.12},
      {{FaultKind::drifted, "heater", "", 40.0}, "H1", "H2", "off", 20160.12},
      {{FaultKind::swapped, "L1", "L2", {}}, "L2", "H1", "low", 0.132},
      {{FaultKind::clocked, "", "", 1.0}, "L1", "H1", "off", 0.132},
      {{FaultKind::bridged, "L1", "L2", {}}, "L1", "H2", "low", 0.144},
      {{FaultKind::bridged, "H2", "CASE", {}}, "H2", "CASE", "off", 0.132},
  };
  for (const Row& row : rows) {
    CAPTURE(to_string(row.fault));
    auto settings = fast();
    settings.faults = {row.fault};
    BenchTop bench{scpi_meter(), settings};
    bench.told(placed(row.first, row.second, row.position));
    const double ohm = bench.asked("MEAS:RES?");
    if (row.ohm == overload)
      CHECK(ohm == overload);
    else
      CHECK(std::abs(ohm - row.ohm) <= 0.005 + row.ohm * 1e-4);
  }
}

TEST_CASE("Every wrong line from the hands is answered with a reason and moves nothing") {
  struct Row {
    const char* line;
    const char* answer;
  };
  const Row rows[] = {
      {R"({"id":7,"probes":"pair","pair":["L1","H9"]})",
       R"~({"id":7,"done":false,"reason":"no terminal is called \"H9\" (did you mean \"H1\"?)"})~"},
      {R"({"id":8,"position":"hihg"})",
       R"~({"id":8,"done":false,"reason":"no knob position is called \"hihg\" (did you mean \"high\"?)"})~"},
      {R"({"id":9,"pair":["L1","L1"]})",
       R"({"id":9,"done":false,"reason":"both probes cannot be on \"L1\"; use \"probes\":\"shorted\""})"},
      {R"({"id":"x","probes":"pair"})", R"({"id":"x","done":false,"reason":"probes on a pair need \"pair\""})"},
      {R"({"id":1,"probes":["pair"]})", R"({"id":1,"done":false,"reason":"\"probes\" must be a string"})"},
      {R"({"id":1,"dial":"ohms"})", R"({"id":1,"done":false,"reason":"no dial position is called \"ohms\""})"},
      {R"({"id":1,"probse":"off"})",
       R"~({"id":1,"done":false,"reason":"unknown key \"probse\" (did you mean \"probes\"?)"})~"},
      {"[1,2]", R"({"id":null,"done":false,"reason":"the line is not a JSON object"})"},
      {"{\"id\":1,", R"({"id":null,"done":false,"reason":"the line is not JSON"})"},
      {"\xFF\xFE", R"({"id":null,"done":false,"reason":"the line is not JSON"})"},
  };
  BenchTop bench;
  for (const Row& row : rows) {
    CAPTURE(row.line);
    CHECK(bench.told(row.line) == row.answer);
  }
  CHECK(bench.asked("MEAS:RES?") == overload);  // the probes are still off
}

TEST_CASE("A line without an end is refused and the next client is served") {
  BenchTop bench;
  CHECK(bench.told(std::string(20'000, 'x')) ==
        R"({"id":null,"done":false,"reason":"the line is longer than 16 KiB"})");
  RawEnd next = RawEnd::unix_socket(bench.simulator.hands_socket());
  next.write("{\"id\":1}\n");
  CHECK(turn_until(bench.loop, [&] { return next.received() == "{\"id\":1,\"done\":true}\n"; }));
}

TEST_CASE("The hands socket lies in a directory of its own that goes with the simulator") {
  std::filesystem::path directory;
  {
    const BenchTop bench;
    directory = std::filesystem::path{bench.simulator.hands_socket()}.parent_path();
    struct stat about {};
    REQUIRE(::stat(directory.c_str(), &about) == 0);
    CHECK((about.st_mode & 0777U) == 0700U);
  }
  CHECK_FALSE(std::filesystem::exists(directory));
}

TEST_CASE("The answer to the hands comes after a reading of the new arrangement") {
  auto settings = fast();
  settings.rate_hz = 50.0;
  BenchTop bench{dial_meter(), settings};
  bench.told(R"({"id":1,"probes":"off"})");
  for (int i = 0; i < 3; ++i) {
    bench.line.forget();
    bench.told(R"({"id":2,"probes":"shorted"})");
    CHECK(bench.line.received().find("2200063") == std::string::npos);
    CHECK(lines_of(bench.line.received()).back().substr(0, 4) == "0000");  // range 0, 0.12 ohm: 00012
    CHECK(lines_of(bench.next_frame() + "\n").back().substr(0, 4) == "0000");
    bench.told(R"({"id":3,"probes":"off"})");
    CHECK(lines_of(bench.line.received()).back() == "622000310020\r");  // over-range 220 M (frame table D)
  }
}

TEST_CASE("A dial on volts shows volts whatever the tool would like to have") {
  BenchTop bench{dial_meter()};
  bench.told(R"({"id":1,"probes":"known-source","dial":"voltage-ac"})");
  const std::string frame = bench.next_frame();
  CHECK(frame.substr(0, 3) == "202");  // 22000 counts of 220.00 V: about 24 V
  CHECK(frame.substr(6) == ";00060\r");
  CHECK(bench.told(R"({"id":2,"dial":"capacitance"})") ==
        R"({"id":2,"done":false,"reason":"this meter's dial has no \"capacitance\""})");
}

TEST_CASE("A tool that comes back finds the meter where it was") {
  BenchTop bench{dial_meter()};
  bench.told(R"({"id":1,"probes":"shorted"})");
  for (int i = 0; i < 3; ++i) {
    RawEnd tool = RawEnd::device(bench.simulator.port());
    REQUIRE(tool.good());
    tool.forget();
    CHECK(turn_until(bench.loop, [&] { return lines_of(tool.received()).size() > 2; }));
  }
}

TEST_CASE("Every shipped meter on a pseudo-terminal tells the heater of every shipped shunt regulator") {
  const std::filesystem::path meters = SOURCE_DIR "/meters";
  const std::filesystem::path profiles = SOURCE_DIR "/profiles";
  for (const std::string& meter_id : list_meter_definitions({{meters}}))
    for (const std::string& profile_id : list_profiles({profiles})) {
      CAPTURE(meter_id);
      CAPTURE(profile_id);
      const MeterDefinition meter = load_meter_definition(meter_id, {{meters}});
      const Profile profile = load_profile(profile_id, {profiles});
      if (!profile_id.starts_with("regulator-shunt")) continue;
      const Element& heater = profile.elements.front();
      BenchTop bench{meter, fast(), profile};
      bench.told(placed(heater.between.first(), heater.between.second(), profile.positions.front().id));
      bench.line.forget();
      const auto decoder = make_decoder(meter);
      for (const FunctionCommands& function : meter.functions)
        if (function.quantity == Quantity::resistance)
          for (const std::string& command : function.send) bench.line.write(command + "\n");
      decoder->selected(Quantity::resistance);
      bench.line.forget();
      if (meter.poll) bench.line.write(meter.poll->request);
      std::vector<Reading> readings;
      REQUIRE(turn_until(bench.loop, [&] {
        decoder->feed(bench.line.taken(), {}, readings);
        return !readings.empty();
      }));
      const double ohm = heater.nominal_ohm + 0.12;  // the leads
      const AccuracyRow* row = meter.accuracy_for(Quantity::resistance, ohm, readings.back().resolution);
      REQUIRE(row != nullptr);
      CHECK(std::abs(readings.back().value - ohm) <=
            ohm * row->percent_of_reading / 100.0 + row->digits * row->resolution);
    }
}

TEST_CASE("Impossible settings are refused in one sentence") {
  const auto refusal = [](const MeterDefinition& meter, const SimulatorSettings& settings) -> std::string {
    try {
      const BenchTop bench{meter, settings};
    } catch (const Error& error) {
      CHECK(error.kind() == ErrorKind::usage);
      return error.what_happened();
    }
    return "accepted";
  };
  auto settings = fast();
  settings.link = "usb";
  CHECK(refusal(scpi_meter(), settings) == "no link is called \"usb\"");
  settings = fast();
  settings.rate_hz = 0.0;
  CHECK(refusal(scpi_meter(), settings) == "0 readings per second are not possible");
  auto meter = scpi_meter();
  meter.decoder.kind = "scpy";
  CHECK(refusal(meter, fast()) == "the simulator cannot speak \"scpy\"");
}

TEST_CASE("The simulator's hands say when the arrangement stands or why it cannot") {
  BenchTop bench;
  const auto hands = simulator_hands(bench.loop, bench.simulator.hands_socket());
  CHECK(hands->states_contact());
  CHECK(hands->confirms_itself());
  int done = 0;
  std::string why;
  const auto asked = [&](const Arrangement& arrangement) {
    hands->arrange(
        arrangement, [&] { ++done; }, [&](std::string reason) { why = std::move(reason); });
  };
  asked({Probes::on_pair, {"H1", "H2"}, "low", Quantity::resistance});
  CHECK(turn_until(bench.loop, [&] { return done == 1; }));
  CHECK(bench.asked("MEAS:RES?") == doctest::Approx(14400.12).epsilon(0.001));
  asked({Probes::on_pair, {"H1", "H7"}, "", Quantity::resistance});
  CHECK(turn_until(bench.loop, [&] { return !why.empty(); }));
  CHECK(why == "no terminal is called \"H7\" (did you mean \"H1\"?)");
}

TEST_CASE("The same seed brings the same readings over the line") {
  const auto frames = [](std::uint64_t seed) {
    auto settings = fast();
    settings.seed = seed;
    settings.start = {Probes::on_pair, {"H1", "H2"}, "off", Quantity::resistance};
    BenchTop bench{dial_meter(), settings};
    turn_until(bench.loop, [&] { return lines_of(bench.line.received()).size() >= 20; });
    auto lines = lines_of(bench.line.received());
    lines.resize(20);
    return lines;
  };
  CHECK(frames(5) == frames(5));
  CHECK(frames(5) != frames(6));
}

TEST_CASE("Hands cannot move a meter that is not there or power a switch without a powered part") {
  BenchTop bench;
  CHECK(bench.told(R"({"id":1,"meter":"lion"})") == R"({"id":1,"done":false,"reason":"no meter is called \"lion\""})");
  CHECK(bench.told(R"({"id":1,"power":"on","position":"low"})") ==
        R"({"id":1,"done":false,"reason":"the profile has no [powered] part: nothing to connect"})");
  CHECK(bench.told(R"({"id":1,"power":1})") == R"({"id":1,"done":false,"reason":"\"power\" must be a string"})");
}

}  // namespace switchwright::sim
