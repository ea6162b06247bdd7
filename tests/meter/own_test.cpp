// The calibration ledger: dates, what every reader must know, what is written and read back.
#include "switchwright/meter/own.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "switchwright/core/error.hpp"

using namespace switchwright;

namespace {

Wall day(const std::string& date, const std::string& time = "12:00:00") {
  return parse_iso8601(date + "T" + time + "Z");
}

OwnMeter bench_3() {
  OwnMeter own{"bench-3", "text-14", "10428", "2026-01-15", "2027-01-15", "K-0815", {}};
  own.corrections = {{Quantity::resistance, 0.0, 400.0, 0.05, 0.04, 2.0}};
  return own;
}

struct Ledger {
  std::filesystem::path path =
      std::filesystem::temp_directory_path() / ("own-meters-" + std::to_string(::getpid())) / "meters-own.toml";
  ~Ledger() { std::filesystem::remove_all(path.parent_path()); }
  void write(const std::string& text) const {
    std::filesystem::create_directories(path.parent_path());
    std::ofstream{path} << text;
  }
  std::string complaint() const {
    try {
      (void)load_own_meters(path);
    } catch (const Error& error) {
      return error.what();
    }
    return {};
  }
};

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("a calibration is valid on its due date and overdue from the day after") {
  struct Row {
    const char* calibrated;
    const char* due;
    Wall when;
    CalibrationState state;
  };
  const Row rows[] = {
      {"2026-01-15", "2027-01-15", day("2026-06-01"), CalibrationState::valid},
      {"2026-01-15", "2027-01-15", day("2027-01-15", "23:59:59"), CalibrationState::valid},
      {"2026-01-15", "2027-01-15", day("2027-01-16", "00:00:00"), CalibrationState::overdue},
      {"2026-01-15", "", day("2026-06-01"), CalibrationState::unknown},
      {"", "2027-01-15", day("2026-06-01"), CalibrationState::unknown},
      {"", "", day("2026-06-01"), CalibrationState::unknown},
  };
  for (const Row& row : rows) {
    CAPTURE(row.calibrated);
    CAPTURE(row.due);
    OwnMeter own = bench_3();
    own.calibrated = row.calibrated;
    own.due = row.due;
    own.corrections.clear();
    CHECK(calibration_state(own, row.when) == row.state);
    CHECK(calibration_remarks(own, row.when).empty() == (row.state == CalibrationState::valid));
  }
}

TEST_CASE("overdue and unknown calibration and corrections are said in words") {
  const OwnMeter own = bench_3();
  CHECK(calibration_words(own, day("2026-06-01")) == "2026-01-15, certificate K-0815, due 2027-01-15");
  CHECK(calibration_words(own, day("2028-06-01")) == "2026-01-15, certificate K-0815, due 2027-01-15: OVERDUE");
  const auto late = calibration_remarks(own, day("2028-06-01"));
  REQUIRE(late.size() == 2);
  CHECK(contains(late[0], "Calibration overdue: the meter bench-3, serial number 10428 was due on 2027-01-15"));
  CHECK(contains(late[1], "certificate K-0815"));
  CHECK(contains(late[1], "resistance 0..400 ohm: +0.05 ohm (U 0.04 ohm, k = 2)"));
}

TEST_CASE("the ledger reads back what it wrote whatever stands in it") {
  const Ledger ledger;
  CHECK(load_own_meters(ledger.path).empty());
  OwnMeter odd = bench_3();
  odd.name = "quote \" back \\ tab \t and Ω";
  odd.corrections.push_back({Quantity::voltage_dc, 1e-3, 1.0, -2e-6, 0.0, 1.5});
  save_own_meters(ledger.path, {bench_3(), odd});
  const auto again = load_own_meters(ledger.path);
  REQUIRE(again.size() == 2);
  CHECK(again[1].name == odd.name);
  REQUIRE(again[1].corrections.size() == 2);
  CHECK(again[1].corrections[1].add == -2e-6);
  CHECK(again[1].corrections[1].from == 1e-3);
  CHECK(again[1].corrections[1].k == 1.5);
}

TEST_CASE("a ledger with mistakes is refused with all of them") {
  const Ledger ledger;
  ledger.write(
      "[[meter]]\nname = \"a\"\ndefinition = \"x\"\ndue = \"2026-13-01\"\nserail = \"1\"\n"
      "[[meter]]\nname = \"a\"\n[[meter.correction]]\nquantity = \"ohm\"\nfrom = 5\nto = 1\nadd = 0\nU = "
      "-1\n");
  const std::string all = ledger.complaint();
  for (const char* part :
       {":4:7: expected a date", "serail", "definition", "saw \"a\" again", "quantity", "above \"from\"", "U"}) {
    CAPTURE(part);
    CHECK(contains(all, part));
  }
}

TEST_CASE("corrections become part of the definition and of its text") {
  const SearchPath shipped{{std::string(SOURCE_DIR) + "/meters"}};
  const MeterDefinition plain = load_meter_definition("text-14", shipped);
  const MeterDefinition corrected = with_corrections(plain, bench_3());
  // Whoever reads the record has only the text.
  const MeterDefinition from_record = parse_meter_definition(corrected.source_text, "text-14.toml");
  REQUIRE(from_record.corrections.size() == 1);
  const Correction* low = from_record.correction_for(Quantity::resistance, 399.9);
  REQUIRE(low);
  CHECK(low->add == 0.05);
  CHECK(from_record.correction_for(Quantity::continuity, 10.0) != nullptr);
  CHECK(from_record.correction_for(Quantity::resistance, 400.0) == nullptr);
  CHECK(from_record.correction_for(Quantity::voltage_dc, 10.0) == nullptr);
  CHECK(plain.corrections.empty());
}

TEST_CASE("a correction on the command line is read or refused with the way to write it") {
  const Correction good = parse_correction("voltage-dc 0..1 -2e-6 U 3e-6 k 2.5");
  CHECK(good.quantity == Quantity::voltage_dc);
  CHECK(good.add == -2e-6);
  CHECK(good.k == 2.5);
  for (const char* bad :
       {"", "resistance", "resistance 0-400 1 U 1", "resistance 0..400 1", "resistance 0..400 x U 1",
        "resistance 400..0 1 U 1", "resistance 0..400 1 U -1", "resistance 0..400 1 U 1 k 0",
        "resistance 0..400 1 U 1 k 2 more", "resistance 0..400 nan U 1", "resistance 0..400 1 U 1 q 2"}) {
    CAPTURE(bad);
    CHECK_THROWS_AS(parse_correction(bad), Error);
  }
}

TEST_CASE("the serial number in an answer to IDN is its third field and zero is none") {
  // IEEE 488.2, 10.14: manufacturer, model, serial number or 0, firmware level or 0. Fewer fields and quotes:
  // common practice.
  const std::pair<const char*, const char*> rows[] = {{"Invented,bench meter,4711,1.0", "4711"},
                                                      {"Invented,\"bench meter\",\"A 4711\",1.0", "A 4711"},
                                                      {"Invented,bench meter, a4711", "a4711"},
                                                      {"Invented,bench meter,0,1.0", ""},
                                                      {"Invented,bench meter,000000,1.0", ""},
                                                      {"Invented,bench meter,,1.0", ""},
                                                      {"Invented,bench meter", ""},
                                                      {"bench meter", ""},
                                                      {"", ""}};
  for (const auto& row : rows) {
    CAPTURE(row.first);
    CHECK(serial_in_identity(row.first) == row.second);
  }
}

TEST_CASE("the meter that answers is matched with the ledger and never with the certificate of another") {
  OwnMeter three{"bench-3", "scpi", "A 4711", "2026-01-15", "2027-01-15", "K-3", {}};
  OwnMeter four{"bench-4", "/bench/scpi.toml", "9999", "2026-01-15", "2027-01-15", "K-4", {}};
  OwnMeter other{"bench-5", "lcd-segment-14", "5555", "2026-01-15", "2027-01-15", "K-5", {}};
  const std::vector<OwnMeter> ledger{three, four, other};
  struct Row {
    const char* name;
    std::optional<OwnMeter> named;
    std::string stated;
    std::string says;
    std::string chosen;
    std::string serial;
    bool remark;
  };
  const Row rows[] = {
      // named     stated   says          chosen     serial   remark
      {"same", three, "", "00a4711", "bench-3", "00a4711", false},
      {"another of the ledger", three, "", "9999", "", "9999", true},
      {"a stranger", three, "", "1234", "", "1234", true},
      {"does not say", three, "", "0", "bench-3", "A 4711", false},
      {"nobody named and known", std::nullopt, "", "9999", "bench-4", "9999", false},
      {"nobody named and unknown", std::nullopt, "", "1234", "", "1234", false},
      {"known under another definition", std::nullopt, "", "5555", "", "5555", false},
      {"stated and the same", std::nullopt, "9999", "9999", "bench-4", "9999", false},
      {"stated and another", std::nullopt, "1111", "9999", "", "9999", true},
      {"nothing is known", std::nullopt, "", "", "", "", false},
  };
  for (const Row& row : rows) {
    CAPTURE(row.name);
    const std::string identity = row.says.empty() ? "" : "Invented,bench meter," + row.says + ",1.0";
    const OwnMatch match = match_own_meter(ledger, row.named, row.stated, identity, "scpi");
    CHECK((match.own ? match.own->name : "") == row.chosen);
    CHECK(match.serial == row.serial);
    CHECK(match.remarks.empty() == !row.remark);
  }
}
