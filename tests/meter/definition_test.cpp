#include "switchwright/meter/definition.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "decoder_bench.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;
using namespace switchwright::test;

namespace {

/// What the loader says about a file with this text, with the path cut off.
std::string complaint(const std::string& toml) {
  std::string text;
  try {
    parse_meter_definition(toml, "x.toml");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::usage);
    text = error.what();
  }
  for (std::size_t at; (at = text.find("x.toml:")) != std::string::npos;) text.erase(at, 7);
  return text;
}

const std::string head = "schema = 1\ntitle = \"t\"\nprovenance = \"p\"\n";

}  // namespace

TEST_CASE("every shipped definition loads and its decoder can be made") {
  const auto ids = list_meter_definitions(shipped());
  REQUIRE(ids.size() >= 3);
  CHECK(std::is_sorted(ids.begin(), ids.end()));
  for (const std::string& id : ids) {
    INFO(id);
    const MeterDefinition definition = load_meter_definition(id, shipped());
    CHECK(definition.id == id);
    CHECK(!definition.source_text.empty());
    CHECK(!definition.provenance.empty());
    CHECK(make_decoder(definition) != nullptr);
    CHECK(load_meter_definition(definition.path.string(), {}).id == id);
  }
}

TEST_CASE("line settings of the shipped definitions are those of their frames") {
  // Speeds and frames: published, except 19200 7O1 which is from memory.
  const auto settings = [](const char* id) {
    const LinkSettings link = definition_of(id).link;
    const char parity = link.parity == Parity::none ? 'N' : link.parity == Parity::odd ? 'O' : 'E';
    return fmt::format("{} {}{}{}", link.baud, link.data_bits, parity, link.stop_bits);
  };
  CHECK(settings("lcd-segment-14") == "2400 8N1");
  CHECK(settings("ascii-status-14") == "2400 8N1");
  CHECK(settings("ascii-nibble-11") == "2400 7O1");
  CHECK(settings("ascii-nibble-14") == "19200 7O1");
  CHECK(settings("text-14") == "1200 7N2");
  CHECK(settings("framed-text-16") == "9600 8N1");
  CHECK(settings("text-line-units") == "19200 8N1");
}

TEST_CASE("the template loads and is not listed as a meter") {
  const std::string path = std::string(SOURCE_DIR) + "/meters/template/my-meter.toml";
  const MeterDefinition definition = load_meter_definition(path, {});
  const auto decoder = make_decoder(definition);
  CHECK(text_of(decode(*decoder, "OHM 4.700 kOhm\r\nVAC 230.1 V\r\nOHM OL MOhm\r\n")) ==
        "resistance 4700 step 1; voltage-ac 230.1 step 0.1; resistance over-range");
  const auto ids = list_meter_definitions(shipped());
  CHECK(std::find(ids.begin(), ids.end(), "my-meter") == ids.end());
}

TEST_CASE("the SCPI definition selects what a bench needs with one command per line") {
  const MeterDefinition scpi_meter = definition_of("scpi");
  for (const Quantity quantity :
       {Quantity::resistance, Quantity::resistance_4_wire, Quantity::voltage_ac, Quantity::voltage_dc})
    CHECK(scpi_meter.selects(quantity));
  CHECK(!scpi_meter.selects(Quantity::capacitance));
  for (const FunctionCommands& function : scpi_meter.functions)
    for (const std::string& command : function.send) CHECK(command.find_first_of(";\n") == std::string::npos);
  REQUIRE(scpi_meter.poll);
  CHECK(scpi_meter.poll->request.back() == '\n');
}

TEST_CASE("accuracy is found by the digit of the reading and else by the range that holds it") {
  const MeterDefinition meter = definition_of("lcd-segment-14");
  const auto full_scale = [&](double value, double resolution) {
    const AccuracyRow* row = meter.accuracy_for(Quantity::resistance, value, resolution);
    return row ? row->full_scale : 0.0;
  };
  CHECK(full_scale(0.3, 0.1) == 400.0);
  CHECK(full_scale(300.0, 1.0) == 4000.0);  // a low value left in a high range keeps that range's accuracy
  CHECK(full_scale(300.0, 0.0) == 400.0);
  CHECK(full_scale(-500.0, 0.0) == 4000.0);
  CHECK(full_scale(1e9, 0.0) == 40e6);
  CHECK(meter.accuracy_for(Quantity::continuity, 1.0, 0.1)->full_scale == 400.0);
  CHECK(meter.accuracy_for(Quantity::capacitance, 1.0, 0.1) == nullptr);
  CHECK(meter.finest(Quantity::resistance)->resolution == 0.1);
  CHECK(meter.finest(Quantity::temperature) == nullptr);
  CHECK(meter.top_of_range(Quantity::resistance) == 40e6);
  CHECK(!meter.top_of_range(Quantity::temperature));
}

TEST_CASE("all mistakes of a definition are named at once with their places") {
  CHECK(
      complaint("schema = 2\n"
                "titel = \"t\"\n"
                "provenance = \"\"\n"
                "update_rate_hz = 0\n"
                "[link]\n"
                "baud = 19230\n"
                "data_bits = 9\n"
                "parity = \"odds\"\n"
                "dtr = \"on\"\n"
                "[decoder]\n"
                "kind = \"spci\"\n"
                "[[accuracy]]\n"
                "quantity = \"ohms\"\n"
                "full_scale = 1\n"
                "resolution = 2\n"
                "percent_of_reading = -1\n") ==
      "1:1: expected a text in quotes for \"title\" in the definition, saw nothing; add the line title = ...\n"
      "1:10: expected the number 1 for \"schema\" in the definition, saw 2\n"
      "2:1: expected a key of the definition, saw \"titel\"; did you mean \"title\"?\n"
      "3:14: expected a text that is not empty for \"provenance\" in the definition, saw the text \"\"\n"
      "4:18: expected a number above 0 and up to 1000 for \"update_rate_hz\" in the definition, saw 0\n"
      "6:8: expected a usual speed for baud, saw 19230; did you mean 19200?\n"
      "7:13: expected a whole number from 5 to 8 for \"data_bits\" in [link], saw 9\n"
      "8:10: expected one of \"none\", \"odd\", \"even\" for \"parity\" in [link], saw \"odds\"; did you mean \"odd\"?\n"
      "9:7: expected true or false for \"dtr\" in [link], saw the text \"on\"\n"
      "11:8: expected a known kind for \"kind\" in [decoder], saw \"spci\"; did you mean \"scpi\"?\n"
      "12:1: expected a number from 0 to 10000 for \"digits\" in [[accuracy]] number 1, saw nothing; add the line digits "
      "= ...\n"
      "13:12: expected one of \"resistance\", \"resistance-4-wire\", \"continuity\", \"diode\", "
      "\"voltage-dc\", "
      "\"voltage-ac\", \"current-dc\", \"current-ac\", \"frequency\", \"duty\", \"capacitance\", "
      "\"temperature\" for \"quantity\" in [[accuracy]] number 1, saw \"ohms\"\n"
      "15:14: expected a resolution below the full scale 1, saw 2\n"
      "16:22: expected a number from 0 to 100 for \"percent_of_reading\" in [[accuracy]] number 1, saw -1");
}

TEST_CASE("a meter without error is refused") {
  CHECK(complaint(head + "[decoder]\nkind = \"scpi\"\n[[accuracy]]\nquantity = \"resistance\"\nfull_scale = 400\n"
                         "resolution = 0.1\npercent_of_reading = 0\ndigits = 0\n")
            .find("no meter is without error") != std::string::npos);
}

TEST_CASE("a definition without the tables that its decoder needs is refused with the table named") {
  CHECK(complaint(head + "[decoder]\nkind = \"lcd-segment-14\"\n") ==
        "4:1: expected the table [decoder.digits] that lcd-segment-14 needs, saw none\n"
        "4:1: expected the table [decoder.symbols] that lcd-segment-14 needs, saw none");
  CHECK(complaint(head) == "1:1: expected the table [decoder] in the definition, saw none; add the line [decoder]");
}

TEST_CASE("mistakes in the tables of a decoder are named with their places") {
  CHECK(complaint(head + "[decoder]\n"  // line 4
                         "kind = \"lcd-segment-14\"\n"
                         "conts = 4000\n"  // 6: unknown option
                         "[decoder.digits]\n"
                         "\"7D\" = \"0\"\n"
                         "\"80\" = \"1\"\n"    // 9: eight bits
                         "\"5B\" = \"two\"\n"  // 10
                         "[decoder.symbols]\n"
                         "\"1.3\" = \"acc\"\n"      // 12
                         "\"3.3\" = \"dc\"\n"       // 13: a digit segment
                         "\"15.0\" = \"dc\"\n") ==  // 14
        "6:9: expected an option that lcd-segment-14 knows, saw \"conts\"; did you mean \"counts\"?\n"
        "9:8: expected a segment code from \"00\" to \"7F\" in capitals as the key, saw \"80\"\n"
        "10:8: expected one of 0 to 9, \" \", \"L\", \"-\", saw \"two\"\n"
        "12:9: expected a symbol word, saw \"acc\"; did you mean \"ac\"?\n"
        "13:9: expected \"BYTE.BIT\" with a bit that holds no digit segment as the key, saw \"3.3\"\n"
        "14:10: expected \"BYTE.BIT\" with a bit that holds no digit segment as the key, saw \"15.0\"");

  CHECK(complaint(head + "[decoder]\nkind = \"ascii-nibble-14\"\n"
                         "[decoder.functions]\n\";\" = \"voltage\"\n"
                         "[decoder.ranges]\n\";0\" = \"2.2 ohm\"\n\"30\" = \"220.00 ohm\"\n"
                         "[decoder.symbols]\n\"status.0\" = \"over-range\"\n") ==
        "9:8: expected a unit that fits voltage, saw \"2.2 ohm\"\n"
        "10:8: expected a function code of [decoder.functions] first in the key, saw \"30\"");

  CHECK(complaint(head + "[decoder]\nkind = \"line-pattern\"\npattern = \"{function} {valeu}\"\n") ==
        "6:11: expected a text with {value} once, and {unit}, {function}, {word}, {digits} where they stand, "
        "saw "
        "\"{function} {valeu}\"");
  CHECK(complaint(head + "[decoder]\nkind = \"line-pattern\"\npattern = \"{function} {value}\"\n") ==
        "6:11: expected the table [decoder.functions] for {function} in the pattern, saw none\n"
        "6:11: expected {unit} in the pattern or unit = a unit, saw neither");
  CHECK(complaint(head + "[decoder]\nkind = \"scpi\"\n[decoder.words]\nO.L = \"over-range\"\n") ==
        "7:1: expected a text for words.O, saw a table; a key with a point must stand in quotes");
}

TEST_CASE("mistakes in functions and corrections are named") {
  const std::string rest = "[decoder]\nkind = \"scpi\"\n";
  CHECK(complaint(head + rest + "[[function]]\nquantity = \"resistance\"\nrequest = \"MEAS:RES?\"\n").find("[poll]") !=
        std::string::npos);
  CHECK(complaint(head + rest + "[[function]]\nquantity = \"resistance\"\n").find("send") != std::string::npos);
  CHECK(complaint(head + rest + "[[function]]\nquantity = \"resistance\"\nsend = [\"CONF:RES\"]\nrange = 100.0\n")
            .find("expected {range} in send or request") != std::string::npos);
  CHECK(complaint(head + rest + "[[function]]\nquantity = \"resistance\"\nsend = [\"CONF:RES {range}\"]\n")
            .find("expected a range") != std::string::npos);
  CHECK(complaint(head + rest + "[[correction]]\nquantity = \"resistance\"\nfrom = 5.0\nto = 1.0\nadd = 0.1\nU = 0.1\n")
            .find("expected \"to\" above \"from\" 5, saw 1") != std::string::npos);
}

TEST_CASE("a file that is not TOML is refused with the place of the first mistake") {
  CHECK(complaint(head + "[link\n").find("4:") == 0);
  CHECK(complaint(head + "[link\n").find("expected TOML, saw") != std::string::npos);
  CHECK(complaint(std::string("\xff\xfe\x00", 3)) != "");
}

TEST_CASE("an unknown definition is answered with a near name") {
  CHECK_THROWS_WITH_AS(load_meter_definition("spci", shipped()),
                       "no meter definition is called \"spci\"; did you mean \"scpi\"?", Error);
  CHECK_THROWS_AS(load_meter_definition("", shipped()), Error);
  CHECK_THROWS_AS(load_meter_definition("no/such/file.toml", shipped()), Error);
  CHECK_THROWS_AS(load_meter_definition(std::string(SOURCE_DIR) + "/meters/", shipped()), Error);
}

TEST_CASE("decoder settings made by a program are checked like those of a file") {
  MeterDefinition definition;
  definition.decoder.kind = "ascii-nibble-14";
  CHECK_THROWS_AS(make_decoder(definition), Error);
  definition.decoder.kind = "lcd-segment-41";
  CHECK_THROWS_WITH_AS(make_decoder(definition),
                       "there is no decoder called \"lcd-segment-41\"; did you mean \"lcd-segment-14\"?", Error);
}
