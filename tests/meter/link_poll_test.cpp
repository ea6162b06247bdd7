// Meters that answer only when asked: one request in flight, time-outs, function selection, the SCPI
// dialogue. The rules are those of IEEE 488.2 (a failed query answers nothing; read the whole answer before
// the next command) and SCPI-1999 volume 2 (21.8.4: -113 undefined header).
#include <map>

#include "link_fixture.hpp"
#include "meter/link/dialogue_text.hpp"

using namespace switchwright;
using namespace switchwright::link_test;
using std::chrono::milliseconds;

namespace {

MeterDefinition polled_meter() {
  MeterDefinition definition = streaming_meter();
  definition.poll = PollSettings{"D", 0.02, 0.08};
  return definition;
}

MeterDefinition scpi_meter() {
  MeterDefinition definition = streaming_meter();
  definition.id = "scpi";
  definition.decoder.kind = "scpi";
  definition.poll = PollSettings{"READ?\n", 0.01, 0.1};
  definition.start_commands = {"SYST:REM"};
  definition.stop_commands = {"SYST:LOC"};
  definition.functions = {{Quantity::resistance, {"CONF:RES"}}, {Quantity::voltage_dc, {"CONF:VOLT:DC"}}};
  return definition;
}

/// Answers lines by a script; what is not in it answers nothing and puts -113 into the error queue, as the
/// standard has it.
struct ScriptedMeter {
  FakeCable cable;
  std::map<std::string, std::string> answers{{"*IDN?", "Example,bench meter,0,1.0"}, {"READ?", "1"}};
  std::vector<std::string> silently_taken{"SYST:REM", "SYST:LOC", "CONF:RES", "CONF:VOLT:DC"};
  /// What each command makes of the function. A command not listed here or taken silently is ignored.
  std::map<std::string, std::string> sets{{"CONF:RES", "RES"}, {"CONF:VOLT:DC", "VOLT"}};
  std::string function = "FREQ";
  bool says_function = true;
  std::vector<std::string> heard;
  std::vector<std::string> errors;
  std::string partial;

  int count(const std::string& command) const {
    int n = 0;
    for (const std::string& line : heard) n += line == command ? 1 : 0;
    return n;
  }
  void turn() {
    partial += cable.heard();
    for (std::size_t end; (end = partial.find('\n')) != std::string::npos; partial.erase(0, end + 1)) {
      const std::string line = partial.substr(0, end);
      heard.push_back(line);
      if (line == "SYST:ERR?") {
        cable.send((errors.empty() ? "0,\"No error\"" : errors.front()) + "\r\n");
        if (!errors.empty()) errors.erase(errors.begin());
      } else if (line == "FUNC?" && says_function) {
        cable.send("\"" + function + "\"\r\n");
      } else if (answers.count(line) > 0) {
        if (line.starts_with("MEAS:") && sets.count("CONF" + line.substr(4, line.size() - 5)) > 0)
          function = sets["CONF" + line.substr(4, line.size() - 5)];
        cable.send(answers[line] + "\r\n");
      } else if (std::find(silently_taken.begin(), silently_taken.end(), line) != silently_taken.end()) {
        if (sets.count(line) > 0) function = sets[line];
      } else {
        errors.push_back("-113,\"Undefined header;" + line + "\"");
      }
    }
  }
};

}  // namespace

TEST_CASE("a polled meter is asked again only when it has answered and not faster than told") {
  FakeCable cable;
  Bench bench;
  const auto start = std::chrono::steady_clock::now();
  bench.open(polled_meter(), cable.path());
  int requests = 0;
  std::vector<std::chrono::steady_clock::time_point> at;
  CHECK(bench.until([&] { return bench.readings.size() >= 5; },
                    [&] {
                      const std::string heard = cable.heard();
                      CHECK(heard.size() <= 1);
                      if (heard.empty()) return;
                      ++requests;
                      at.push_back(std::chrono::steady_clock::now());
                      cable.send(std::to_string(requests) + "\n");
                    }));
  CHECK(bench.values() == std::vector<double>{1, 2, 3, 4, 5});
  // A request may be seen late but never early.
  for (std::size_t i = 1; i < at.size(); ++i) CHECK(at[i] - start >= i * milliseconds{20});
}

TEST_CASE("a request that is not answered is silent and asked again") {
  FakeCable cable;
  MeterDefinition definition = polled_meter();
  definition.link.silent_after_s = 0.05;
  Bench bench;
  bench.open(definition, cable.path());
  REQUIRE(bench.until_state(LinkState::silent));
  CHECK(contains(bench.changes.back().detail, "no answer"));
  CHECK(contains(bench.changes.back().detail, "to D within 0.08 s"));
  CHECK(cable.heard().starts_with("D"));
  REQUIRE(bench.until([&] { return cable.heard() == "D"; }));
  cable.send("3\n");
  REQUIRE(bench.until_state(LinkState::alive));
  CHECK(bench.values() == std::vector<double>{3});
}

TEST_CASE("a SCPI meter is started and named and asked and released") {
  ScriptedMeter meter;
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return bench.readings.size() >= 2; }, [&] { meter.turn(); }));
  CHECK(bench.meter->identity() == "Example,bench meter,0,1.0");
  // A number without a unit means nothing before the function is set, so the first function is set first.
  const std::vector<std::string> first{"SYST:REM",  "*IDN?", "SYST:ERR?", "CONF:RES",
                                       "SYST:ERR?", "FUNC?", "READ?",     "FUNC?"};
  REQUIRE(meter.heard.size() >= first.size());
  CHECK(std::vector<std::string>(meter.heard.begin(), meter.heard.begin() + 8) == first);
  bench.meter->stop();
  meter.turn();
  CHECK(meter.heard.back() == "SYST:LOC");
}

TEST_CASE("a start command that the meter does not know is no complaint") {
  ScriptedMeter meter;
  meter.silently_taken = {"CONF:RES"};
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }, [&] { meter.turn(); }));
  for (const LinkChange& change : bench.changes) CHECK_FALSE(contains(change.detail, "error"));
}

TEST_CASE("a selected function is set before the next reading and what was asked before is dropped") {
  ScriptedMeter meter;
  meter.answers.erase("READ?");
  meter.silently_taken.push_back("READ?");
  MeterDefinition definition = scpi_meter();
  definition.poll->timeout_s = 1.0;
  Bench bench;
  bench.open(definition, meter.cable.path());
  REQUIRE(bench.until([&] { return meter.count("READ?") == 1; }, [&] { meter.turn(); }));
  bench.meter->select(Quantity::voltage_dc);
  bench.run_for(milliseconds{10});
  meter.turn();
  CHECK(meter.count("CONF:VOLT:DC") == 0);  // never two in flight
  meter.cable.send("111\n");                // ohms, asked before
  meter.answers["READ?"] = "222";
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }, [&] { meter.turn(); }));
  CHECK(bench.readings[0].value == 222);
  CHECK(bench.readings[0].quantity == Quantity::voltage_dc);
}

TEST_CASE("a function that is refused is told in the meter's words and nothing is taken for it") {
  struct Row {
    const char* how;
    std::vector<std::string> taken;  // without an error
    std::map<std::string, std::string> sets;
    bool says_function;
    const char* words;
  };
  const Row rows[] = {
      {"with an error", {}, {}, true, "after CONF:RES it reports -113 Undefined header;CONF:RES"},
      {"with an error, and it never says where it stands", {}, {}, false, "-113 Undefined header;CONF:RES"},
      {"without a word", {"CONF:RES"}, {}, true, "it says that it stands on \"FREQ\""},
      {"without a word, and it never says where it stands", {"CONF:RES"}, {}, false, "neither FUNC? nor CONF?"},
      {"by setting another", {"CONF:RES"}, {{"CONF:RES", "FRES"}}, true, "stands on \"FRES\""},
  };
  for (const Row& row : rows) {
    CAPTURE(row.how);
    ScriptedMeter meter;
    meter.silently_taken = row.taken;
    meter.silently_taken.insert(meter.silently_taken.end(), {"SYST:REM", "SYST:LOC"});
    meter.sets = row.sets;
    meter.says_function = row.says_function;
    Bench bench;
    bench.open(scpi_meter(), meter.cable.path());
    bench.meter->select(Quantity::resistance);
    const auto refused = [&] { return !bench.changes.empty() && bench.changes.back().cannot_be_set.has_value(); };
    REQUIRE(bench.until(refused, [&] { meter.turn(); }));
    CHECK(bench.changes.back().cannot_be_set == Quantity::resistance);
    CHECK(contains(bench.changes.back().detail, "the meter cannot be set to ohms"));
    CHECK(contains(bench.changes.back().detail, row.words));
    const auto soon = std::chrono::steady_clock::now() + milliseconds{50};
    bench.until([&] { return std::chrono::steady_clock::now() > soon; }, [&] { meter.turn(); });
    CHECK(bench.readings.empty());
  }
}

TEST_CASE("a refused function does not keep the next one from being set") {
  ScriptedMeter meter;
  meter.sets.erase("CONF:RES");
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  const auto refused = [&] { return !bench.changes.empty() && bench.changes.back().cannot_be_set.has_value(); };
  REQUIRE(bench.until(refused, [&] { meter.turn(); }));
  bench.meter->select(Quantity::voltage_dc);
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }, [&] { meter.turn(); }));
  CHECK(bench.readings[0].quantity == Quantity::voltage_dc);
}

TEST_CASE("a reading after which the meter stands elsewhere is not taken and the function is set again") {
  ScriptedMeter meter;
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return bench.readings.size() >= 2; }, [&] { meter.turn(); }));
  const int set_before = meter.count("CONF:RES");
  meter.answers["READ?"] = "7";
  meter.function = "VOLT";  // somebody turned the dial
  REQUIRE(bench.until([&] { return meter.count("CONF:RES") > set_before; }, [&] { meter.turn(); }));
  const auto before = bench.readings.size();
  for (std::size_t i = 0; i < before; ++i) CHECK(bench.readings[i].value == 1);
  meter.answers["READ?"] = "8";
  REQUIRE(bench.until([&] { return bench.readings.size() > before; }, [&] { meter.turn(); }));
  CHECK(bench.readings[before].value == 8);
}

TEST_CASE("a meter that goes back to another function by itself each time is given up") {
  ScriptedMeter meter;
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  const auto refused = [&] { return !bench.changes.empty() && bench.changes.back().cannot_be_set.has_value(); };
  REQUIRE(bench.until(refused, [&] {
    if (!meter.heard.empty() && meter.heard.back() == "READ?") meter.function = "VOLT";
    meter.turn();
    if (!meter.heard.empty() && meter.heard.back() == "READ?") meter.function = "VOLT";
  }));
  CHECK(bench.readings.empty());
}

TEST_CASE("of a meter with a second display the first number is the reading") {
  ScriptedMeter meter;
  meter.function = "x";
  meter.answers["READ?"] = "230.1\r\n60.0";  // the line decoder of this test takes one number a line
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return bench.readings.size() >= 3; }, [&] { meter.turn(); }));
  for (const Reading& reading : bench.readings) CHECK(reading.value == 230.1);
}

TEST_CASE(
    "a meter that is named by neither question is measured with when it answers a request that names the function") {
  ScriptedMeter meter;
  meter.answers.erase("*IDN?");
  meter.answers["MEAS:VOLT:DC?"] = "1.5";
  meter.says_function = false;
  MeterDefinition definition = scpi_meter();
  definition.functions = {{Quantity::voltage_dc, {"CONF:VOLT:DC"}, "MEAS:VOLT:DC?", std::nullopt}};
  Bench bench;
  bench.open(definition, meter.cable.path());
  const auto read = [&] { return !bench.readings.empty(); };
  // *IDN? is waited for a second and a half first.
  REQUIRE((bench.until(read, [&] { meter.turn(); }) || bench.until(read, [&] { meter.turn(); })));
  CHECK(bench.readings[0].value == 1.5);
}

TEST_CASE("a query that answers nothing is followed by the error queue and its reason is told") {
  ScriptedMeter meter;
  meter.answers.erase("READ?");
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until(
      [&] {
        return contains(bench.detail_of(bench.changes.empty() ? LinkState::open : bench.changes.back().state), "-113");
      },
      [&] { meter.turn(); }));
  CHECK(contains(bench.changes.back().detail, "after READ?"));
}

TEST_CASE("an error queue that never empties is read with a bound") {
  ScriptedMeter meter;
  for (int i = 0; i < 200; ++i) meter.errors.push_back("-350,\"Queue overflow\"");
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }, [&] { meter.turn(); }));
  CHECK(meter.count("SYST:ERR?") <= 140);  // 100 at the start, 20 after the function was set
  bool told = false;
  for (const LinkChange& change : bench.changes) told |= contains(change.detail, "more without end");
  CHECK(told);
}

TEST_CASE("echo and prompt do not hide the name") {
  ScriptedMeter meter;
  meter.answers["*IDN?"] = "*IDN?\r\n=> Example,echoing meter,0,2";
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }, [&] { meter.turn(); }));
  CHECK(bench.meter->identity() == "Example,echoing meter,0,2");
}

TEST_CASE("answers that come later than the time-out are told as late and never taken as the next one") {
  ScriptedMeter meter;
  meter.answers.erase("READ?");
  meter.silently_taken.push_back("READ?");
  MeterDefinition definition = scpi_meter();
  definition.poll->timeout_s = 0.05;
  definition.link.silent_after_s = 0.04;
  Bench bench;
  bench.open(definition, meter.cable.path());
  // The reading arrives just before the answer of the error queue.
  CHECK(bench.until([&] { return bench.saw(LinkState::silent); },
                    [&] {
                      const auto asked = meter.count("SYST:ERR?");
                      std::string late = meter.count("READ?") > 0 ? "5\r\n" : "";
                      const std::string heard = meter.cable.heard();
                      meter.partial += heard;
                      if (!late.empty() && contains(meter.partial, "SYST:ERR?")) meter.cable.send(late);
                      meter.turn();
                      (void)asked;
                    }));
  CHECK(contains(bench.detail_of(LinkState::silent), "later than 0.05 s"));
  CHECK(bench.readings.empty());
}

TEST_CASE("an answer that comes when all patience is over is not taken for the function selected since") {
  ScriptedMeter meter;
  meter.answers.erase("READ?");
  meter.silently_taken.push_back("READ?");
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return meter.count("READ?") == 1; }, [&] { meter.turn(); }));
  bench.run_for(milliseconds{1800});  // the meter is busy; the error queue has been asked for in vain
  bench.meter->select(Quantity::voltage_dc);
  bench.run_for(milliseconds{20});
  meter.cable.send("111\r\n");  // ohms, at last
  meter.answers["READ?"] = "222";
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }, [&] { meter.turn(); }));
  CHECK(bench.readings[0].value == 222);
  CHECK(bench.readings[0].quantity == Quantity::voltage_dc);
}

TEST_CASE("a function with a request of its own is asked by it and by nothing else") {
  ScriptedMeter meter;
  meter.answers["MEAS:VOLT:DC?"] = "1.5";
  MeterDefinition definition = scpi_meter();
  definition.functions = {{Quantity::voltage_dc, {"CONF:VOLT:DC"}, "MEAS:VOLT:DC?", std::nullopt}};
  Bench bench;
  bench.open(definition, meter.cable.path());
  REQUIRE(bench.until([&] { return bench.readings.size() >= 2; }, [&] { meter.turn(); }));
  CHECK(bench.readings[0].quantity == Quantity::voltage_dc);
  CHECK(meter.count("READ?") == 0);
  CHECK(meter.count("CONF:VOLT:DC") == 1);  // whether it refuses shows at once, and not after a time-out
}

TEST_CASE("a refused request is seen in the error queue at once and not after its time-out") {
  ScriptedMeter meter;
  meter.silently_taken = {"SYST:REM", "SYST:LOC"};
  MeterDefinition definition = scpi_meter();
  definition.poll->timeout_s = 60.0;
  definition.functions = {{Quantity::voltage_dc, {"CONF:VOLT:DC"}, "MEAS:VOLT:DC?", std::nullopt}};
  Bench bench;
  bench.open(definition, meter.cable.path());
  const auto refused = [&] { return !bench.changes.empty() && bench.changes.back().cannot_be_set.has_value(); };
  CHECK(bench.until(refused, [&] { meter.turn(); }));  // within two seconds
  CHECK(bench.readings.empty());
}

TEST_CASE("a request that the meter does not understand is replaced by configuring and without a complaint") {
  ScriptedMeter meter;
  MeterDefinition definition = scpi_meter();
  definition.functions = {{Quantity::voltage_dc, {"CONF:VOLT:DC"}, "MEAS:VOLT:DC?", std::nullopt}};
  Bench bench;
  bench.open(definition, meter.cable.path());
  REQUIRE(bench.until([&] { return bench.readings.size() >= 3; }, [&] { meter.turn(); }));
  CHECK(meter.count("MEAS:VOLT:DC?") == 1);
  for (const LinkChange& change : bench.changes) CHECK_FALSE(contains(change.detail, "error"));
}

TEST_CASE("an order goes between two readings and its error comes back") {
  ScriptedMeter meter;
  meter.silently_taken.push_back("ROUT:OPEN:ALL");
  Bench bench;
  bench.open(scpi_meter(), meter.cable.path());
  REQUIRE(bench.until([&] { return !bench.readings.empty(); }, [&] { meter.turn(); }));
  std::vector<std::string> answers;
  const auto note = [&](const std::string& trouble) { answers.push_back(trouble); };
  bench.meter->order({"ROUT:OPEN:ALL"}, note);
  bench.meter->order({"ROUT:OPEN:ALL", "ROUT:CLOSE:NONSENSE"}, note);
  REQUIRE(bench.until([&] { return answers.size() == 2; }, [&] { meter.turn(); }));
  CHECK(answers[0].empty());
  CHECK(contains(answers[1], "-113 Undefined header;ROUT:CLOSE:NONSENSE"));
  meter.errors.push_back("-231,\"Data questionable\"");  // of a measurement
  const auto before = bench.readings.size();
  REQUIRE(bench.until([&] { return bench.readings.size() > before; }, [&] { meter.turn(); }));
  bench.meter->order({"ROUT:OPEN:ALL"}, note);
  REQUIRE(bench.until([&] { return answers.size() == 3; }, [&] { meter.turn(); }));
  CHECK(answers[2].empty());
  const auto readings = bench.readings.size();
  CHECK(bench.until([&] { return bench.readings.size() > readings; }, [&] { meter.turn(); }));
}

TEST_CASE("function and start are sent again after the link was lost") {
  const std::string alias = std::filesystem::temp_directory_path() / ("link-poll-" + std::to_string(::getpid()));
  Bench bench;
  FakeCable cable(alias);
  MeterDefinition definition = polled_meter();
  definition.start_commands = {"START"};
  definition.functions = {{Quantity::voltage_dc, {"VOLTS"}}};
  bench.open(definition, cable.path());
  bench.meter->select(Quantity::voltage_dc);
  std::string heard;
  const auto listen = [&] { heard += cable.heard(); };
  REQUIRE(bench.until([&] { return contains(heard, "D"); }, listen));
  CHECK(heard == "START\nVOLTS\nD");
  heard.clear();
  cable.unplug();
  REQUIRE(bench.until_state(LinkState::lost));
  cable.plug();
  REQUIRE(bench.until([&] { return contains(heard, "D"); }, listen));
  CHECK(heard == "START\nVOLTS\nD");
}

TEST_CASE("entries of an error queue are told from late readings") {
  struct Row {
    const char* line;
    bool is_entry;
    int code;
    const char* text;
  };
  // SCPI-1999 volume 2, 21.8: <number>,"<text>"; the spellings without quotes and with a plus are common
  // practice.
  const Row rows[] = {
      {"0,\"No error\"", true, 0, "No error"},
      {"+0,\"No error\"", true, 0, "No error"},
      {"0,No error", true, 0, "No error"},
      {"0", true, 0, ""},
      {"-113,\"Undefined header;FOO:BAR?\"", true, -113, "Undefined header;FOO:BAR?"},
      {"-350, \"Queue overflow\" ", true, -350, "Queue overflow"},
      {"+1.23400000E+01", false, 0, ""},
      {"1,2,3", false, 0, ""},
      {"5", false, 0, ""},
      {"", false, 0, ""},
      {"garbage", false, 0, ""},
  };
  for (const Row& row : rows) {
    CAPTURE(row.line);
    const auto entry = error_entry(row.line);
    REQUIRE(entry.has_value() == row.is_entry);
    if (!entry) continue;
    CHECK(entry->code == row.code);
    CHECK(entry->text == row.text);
  }
}

TEST_CASE("the function is understood in whatever dress the meter names it") {
  // Keywords, their short forms and DC as the default node: SCPI-1999 volume 2. Quotes, case, parameters behind and
  // a second display are common practice, no source.
  struct Row {
    const char* answer;
    const char* name;
  };
  const Row rows[] = {
      {"\"VOLT:AC\"", "VOLT:AC"},
      {"volt:ac", "VOLT:AC"},
      {"'VOLTage:AC'", "VOLT:AC"},
      {"\"VOLT\"", "VOLT"},
      {"\"VOLT:DC\"", "VOLT"},
      {":SENSe1:VOLTage:DC", "VOLT"},
      {"\"VOLT:AC +1.000000E+01,+1.000000E-05\"", "VOLT:AC"},
      {"\"VOLT:AC\",\"FREQ\"", "VOLT:AC"},
      {"\"RES\"", "RES"},
      {"FRESISTANCE", "FRES"},
      {"VOLT:DC:RAT", "VOLT:DC:RAT"},
      {"\"VOLT:ACDC\"", "VOLT:ACDC"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.answer);
    CHECK(looks_like_function(row.answer));
    CHECK(function_name(row.answer) == row.name);
  }
  for (const char* other : {"+1.0E+00", "9.9E37", "-113,\"Undefined header\"", "0,\"No error\"", "", "5"}) {
    CAPTURE(other);
    CHECK_FALSE(looks_like_function(other));
  }
  FunctionCommands own{Quantity::voltage_ac, {}, "MEAS:VOLT:AC?", {}, {"ACV"}};
  CHECK(names("\"acv\"", own));
  CHECK_FALSE(names("\"DCV\"", own));
}

TEST_CASE("prompts that have gathered in front of an answer are taken off and answers are left whole") {
  struct Row {
    const char* line;
    const char* rest;
  };
  const Row rows[] = {{"=> 0,\"No error\"", "0,\"No error\""},
                      {"=> => 1.5", "1.5"},
                      {"SCPI> +1", "+1"},
                      {"3>", ""},
                      {"-1,\"a>b\"", "-1,\"a>b\""},
                      {"1.5", "1.5"}};
  for (const Row& row : rows) {
    CAPTURE(row.line);
    CHECK(without_prompt(row.line) == row.rest);
  }
}
