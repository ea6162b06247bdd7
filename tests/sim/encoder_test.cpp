// Frames of the simulated meters against the frame tables, and the way back through the tool's own
// decoders.
#include "sim/encoder.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

#include "sim/meter_model.hpp"
#include "switchwright/meter/decoder.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::sim {

namespace {

MeterDefinition shipped(const std::string& id) { return load_meter_definition(id, {{SOURCE_DIR "/meters"}}); }

std::string hex(const std::string& bytes) {
  std::string text;
  for (const char c : bytes) text += fmt::format("{}{:02X}", text.empty() ? "" : " ", static_cast<unsigned char>(c));
  return text;
}

Display finite(Quantity quantity, std::int64_t counts, double resolution, double full_scale, bool autorange = true) {
  Display display;
  display.quantity = quantity;
  display.counts = counts;
  display.resolution = resolution;
  display.full_scale = full_scale;
  display.autorange = autorange;
  return display;
}

Display over(Quantity quantity, double resolution, double full_scale) {
  Display display = finite(quantity, 0, resolution, full_scale);
  display.state = ReadingState::over_range;
  return display;
}

/// How this meter sends an overload is known.
bool says_overload(const std::string& id) { return id != "framed-text-16"; }

}  // namespace

TEST_CASE("LCD segment frames are those computed by hand from the segment table") {
  struct Row {
    const char* what;
    Display display;
    const char* frame;  // CALC rows of the frame table: computed from the table (from memory), not captured
  };
  const Row rows[] = {
      {"-1.234 V DC AUTO", finite(Quantity::voltage_dc, -1234, 1e-3, 4.0), "17 28 35 4D 5B 61 7F 82 97 A0 B0 C0 D4 E0"},
      {"12.34 V DC AUTO", finite(Quantity::voltage_dc, 1234, 1e-2, 40.0), "17 20 35 45 5B 69 7F 82 97 A0 B0 C0 D4 E0"},
      {"230.1 V AC AUTO", finite(Quantity::voltage_ac, 2301, 0.1, 400.0), "1B 25 3B 41 5F 67 7D 88 95 A0 B0 C0 D4 E0"},
      {"4.700 kohm AUTO", finite(Quantity::resistance, 4700, 1.0, 4000.0 * 1.25),
       "13 22 37 49 55 67 7D 87 9D A2 B0 C4 D0 E0"},
      {"over-range 0.L Mohm", over(Quantity::resistance, 1e4, 40e6), "13 20 30 47 5D 6E 78 80 90 A0 B2 C4 D0 E0"},
      {"50.00 Hz, manual", finite(Quantity::frequency, 5000, 0.01, 100.0, false),
       "11 23 3E 47 5D 6F 7D 87 9D A0 B0 C0 D2 E0"},
      {"000.3 ohm continuity", finite(Quantity::continuity, 3, 0.1, 400.0, false),
       "11 27 3D 47 5D 67 7D 89 9F A0 B1 C4 D0 E0"},
  };
  const auto encoder = make_encoder(shipped("lcd-segment-14"));
  for (const Row& row : rows) {
    CAPTURE(row.what);
    CHECK(hex(encoder->shown(row.display)) == row.frame);
  }
}

TEST_CASE("ASCII nibble frames are those computed by hand from the code table") {
  struct Row {
    const char* what;
    Display display;
    const char* frame;  // CALC rows of the frame table: computed from the table (from memory), not captured
  };
  const Row rows[] = {
      {"-1.2345 V DC AUTO", finite(Quantity::voltage_dc, -12345, 1e-4, 2.2), "012345;400:0\r\n"},
      {"230.10 V AC AUTO", finite(Quantity::voltage_ac, 23010, 1e-2, 220.0), "223010;00060\r\n"},
      {"4.7000 kohm AUTO", finite(Quantity::resistance, 47000, 0.1, 2200.0), "147000300020\r\n"},
      {"over-range 220 M", over(Quantity::resistance, 1e4, 220e6), "622000310020\r\n"},
  };
  const auto encoder = make_encoder(shipped("ascii-nibble-14"));
  for (const Row& row : rows) {
    CAPTURE(row.what);
    CHECK(encoder->shown(row.display) == row.frame);
  }
}

TEST_CASE("Text frames are those computed by hand from the published tables") {
  struct Row {
    const char* meter;
    Display display;
    const char* frame;  // rows of the frame table: published, columns of text-14 from memory, 16-character row CALC
  };
  const Row rows[] = {
      {"text-14", finite(Quantity::voltage_dc, -1234, 1e-3, 4.0), "DC -1.234   V\r"},
      {"text-14", finite(Quantity::voltage_ac, 2301, 0.1, 400.0), "AC  230.1   V\r"},
      {"text-14", finite(Quantity::resistance, 4700, 1.0, 4000.0), "OH  4.700KOhm\r"},
      {"text-14", over(Quantity::resistance, 1e4, 40e6), "OH  O.L  MOhm\r"},
      {"framed-text-16", finite(Quantity::voltage_dc, -1234, 1e-2, 20.0),
       "\x02"
       "41341200001234\r"},
      {"text-line-units", finite(Quantity::voltage_dc, -12345, 1e-7, 0.01), "1 DCV -1.2345 mV\r\n"},
      {"text-line-units", finite(Quantity::resistance, 4700, 1.0, 1e4), "1 OHM 4.700 kOhm\r\n"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.frame);
    const MeterDefinition definition = shipped(row.meter);
    const auto encoder = make_encoder(definition);
    std::string sent = encoder->shown(row.display);
    if (definition.poll) {
      CHECK(sent.empty());  // speaks when asked
      sent = encoder->asked(definition.poll->request);
    }
    CHECK(sent == row.frame);
  }
}

TEST_CASE("Every shipped definition reads back what its simulated meter shows") {
  for (const std::string& id : list_meter_definitions({{SOURCE_DIR "/meters"}})) {
    CAPTURE(id);
    const MeterDefinition definition = shipped(id);
    const auto encoder = make_encoder(definition);
    const auto decoder = make_decoder(definition);
    MeterModel model{definition, 11};
    int checked = 0;
    std::uint64_t refused = 0;
    for (const AccuracyRow& row : definition.accuracy) {
      CAPTURE(name_of(row.quantity));
      CAPTURE(row.full_scale);
      for (const double share : {0.0, 0.11, 0.5, 0.97, -0.5, 1e9}) {
        CAPTURE(share);
        if (share < 0.0 && row.quantity != Quantity::voltage_dc) continue;
        const double value = share * row.full_scale;
        const Display display = model.convert(row.quantity, value);
        if (!definition.functions.empty() && definition.selects(row.quantity)) {
          for (const FunctionCommands& function : definition.functions)
            if (function.quantity == row.quantity)
              for (const std::string& command : function.send) encoder->asked(command + "\n");
          decoder->selected(row.quantity);
        }
        if (definition.decoder.kind == "scpi") encoder->asked(definition.poll->request);
        std::vector<Reading> readings;
        std::string sent = encoder->shown(display);
        if (definition.poll && sent.empty()) sent = encoder->asked(definition.poll->request);
        decoder->feed(sent, {}, readings);
        if (share > 2.0 && !says_overload(id)) {
          CHECK(readings.empty());
          ++refused;
          continue;
        }
        REQUIRE(readings.size() == 1);
        CHECK(readings[0].quantity == row.quantity);
        if (share > 2.0) {
          CHECK(readings[0].state == ReadingState::over_range);
        } else {
          REQUIRE(readings[0].finite());
          CHECK(std::abs(readings[0].value - display.value()) <= 0.5 * display.resolution);
          const AccuracyRow* range = definition.accuracy_for(row.quantity, value, display.resolution);
          REQUIRE(range != nullptr);
          CHECK(std::abs(readings[0].value - value) <=
                std::abs(value) * range->percent_of_reading / 100.0 + range->digits * range->resolution);
        }
        ++checked;
      }
    }
    CHECK(checked > 20);
    CHECK(decoder->counts().rejected_total() == refused);
  }
}

}  // namespace switchwright::sim
