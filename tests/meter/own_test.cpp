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
  ledger.write("[[meter]]\nname = \"a\"\ndefinition = \"x\"\ndue = \"2026-13-01\"\nserail = \"1\"\n"
               "[[meter]]\nname = \"a\"\n[[meter.correction]]\nquantity = \"ohm\"\nfrom = 5\nto = 1\nadd = 0\nU = -1\n");
  const std::string all = ledger.complaint();
  for (const char* part : {":4:7: expected a date", "serail", "definition", "saw \"a\" again", "quantity", "above \"from\"", "U"}) {
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
  for (const char* bad : {"", "resistance", "resistance 0-400 1 U 1", "resistance 0..400 1", "resistance 0..400 x U 1",
                          "resistance 400..0 1 U 1", "resistance 0..400 1 U -1", "resistance 0..400 1 U 1 k 0",
                          "resistance 0..400 1 U 1 k 2 more", "resistance 0..400 nan U 1", "resistance 0..400 1 U 1 q 2"}) {
    CAPTURE(bad);
    CHECK_THROWS_AS(parse_correction(bad), Error);
  }
}
