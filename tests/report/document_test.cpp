// Reports as documents: few pages, each with its footer, no picture without its colours; the label's code is read back by
// another program. References: poppler-utils (pdfinfo, pdftotext, pdftoppm), zbarimg.
#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <regex>

#include "made_up.hpp"
#include "outside.hpp"
#include "record/example.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/report/claim.hpp"
#include "switchwright/report/exporter.hpp"
#include "switchwright/report/label.hpp"

using namespace switchwright;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

Record faulty() {
  made_up::Choices choices;
  choices.faults = {"stuck-closed:cycling"};
  Record record = made_up::record(choices);
  record.header.utc_offset_min = 60;
  record.header.zone = "CET";
  record.header.claim = {"WO-1234", "Range R30", "RS-998", "2547", "Parts Ltd", "L-77", "never goes off"};
  return record;
}

/// Fifteen minutes of three channels; the load cycles on 12 s, off 20 s.
Record trace() {
  Record record;
  record.header = faulty().header;
  record.header.kind = RecordKind::trace;
  record.header.id = "20260302-101500-ab12";
  record.trace = TraceSetup{"medium", "", 240.0, "2800W@240", 20.57, 23.0};
  const char* names[] = {"load", "line", "pilot"};
  for (int c = 1; c <= 3; ++c) {
    TraceChannel channel;
    channel.channel = c;
    channel.name = channel.role = names[c - 1];
    channel.quantity = "voltage-ac";
    channel.meter_title = "made-up meter";
    channel.port = "/dev/ttyUSB0";
    record.channels.push_back(channel);
  }
  for (int i = 0; i < 3600; ++i) {
    const double t_s = i * 0.25;
    const bool on = std::fmod(t_s + 3.0, 32.0) < 12.0;
    record.samples.push_back({1, t_s, ReadingState::finite, on ? 240.0 : 0.0004602, 0.1, ""});
    record.samples.push_back({2, t_s + 0.05, ReadingState::finite, 240.1, 0.1, ""});
    record.samples.push_back({3, t_s + 0.1, ReadingState::finite, 239.8, 0.1, ""});
  }
  record.chain_head = std::string(64, 'c');
  Verdict verdict;
  verdict.scope.passes(ScopePart::timing, "28 cycles");
  conclude(verdict);
  record.verdict = verdict;
  return record;
}

int pages_of(const std::filesystem::path& pdf) {
  const auto info = outside::run("pdfinfo " + pdf.string());
  std::smatch found;
  return std::regex_search(info.output, found, std::regex("Pages: +([0-9]+)")) ? std::stoi(found[1]) : -1;
}

/// How many pixels of each page are near a colour, from pdftoppm's PPM.
std::size_t pixels_near(const std::filesystem::path& ppm, int r, int g, int b) {
  const std::string bytes = outside::pixels_of(ppm);
  std::size_t count = 0;
  for (std::size_t i = 0; i + 2 < bytes.size(); i += 3) {
    const auto at = [&](std::size_t k) { return static_cast<int>(static_cast<unsigned char>(bytes[i + k])); };
    if (std::abs(at(0) - r) < 40 && std::abs(at(1) - g) < 40 && std::abs(at(2) - b) < 40) ++count;
  }
  return count;
}

}  // namespace

TEST_CASE("documents have few pages, and every page its footer") {
  REQUIRE_PROGRAM("weasyprint", "weasyprint");
  REQUIRE_PROGRAM("pdfinfo", "poppler-utils");
  struct Row {
    const char* name;
    Record record;
    Paper paper;
    int most;
  };
  Record long_serial = faulty();
  long_serial.header.serial = std::string(300, 'S');
  const Row rows[] = {{"qualification", faulty(), Paper::a4, 4},
                      {"letter, a serial number of 300 characters", long_serial, Paper::letter, 4},
                      {"trace", trace(), Paper::a4, 5}};
  for (const Row& row : rows) {
    CAPTURE(row.name);
    const example::Folder folder;
    const auto pdf = folder / "report.pdf";
    write_file_durably(pdf.string(), make_exporter("pdf", row.paper)->render(row.record));
    const int pages = pages_of(pdf);
    CHECK(pages >= 1);
    CHECK(pages <= row.most);
    for (int page = 1; page <= pages; ++page) {
      CAPTURE(page);
      const auto text = outside::run("pdftotext -layout -f " + std::to_string(page) + " -l " + std::to_string(page) +
                                     " " + pdf.string() + " -");
      for (const std::string& part :
           {"Serial " + row.record.header.serial.substr(0, 30), row.record.header.id, row.record.chain_head,
            "page " + std::to_string(page) + " of " + std::to_string(pages)}) {
        CAPTURE(part);
        CHECK(has(text.output, part));
      }
      CHECK_FALSE(has(text.output, "[[contact]]"));  // TOML lies in the bag
    }
  }
}

TEST_CASE("the first page carries what a desk must know, with times local and in UTC") {
  REQUIRE_PROGRAM("weasyprint", "weasyprint");
  REQUIRE_PROGRAM("pdftotext", "poppler-utils");
  const example::Folder folder;
  const auto pdf = folder / "report.pdf";
  write_file_durably(pdf.string(), make_exporter("pdf")->render(faulty()));
  const auto text = outside::run("pdftotext -layout -f 1 -l 1 " + pdf.string() + " -");
  for (const char* part :
       {"FAIL", "What deviates", "240 V, 15 A", "WO-1234", "L-77", "never goes off", "invented for demonstration",
        "2025-11-14", "10:15:02", "CET", "09:15:02 UTC", "assumed fault frequencies", "deviates:"}) {
    CAPTURE(part);
    CHECK(has(text.output, part));
  }
}

TEST_CASE("no chart of a trace is a black rectangle") {
  REQUIRE_PROGRAM("weasyprint", "weasyprint");
  REQUIRE_PROGRAM("pdftoppm", "poppler-utils");
  const example::Folder folder;
  const auto pdf = folder / "trace.pdf";
  write_file_durably(pdf.string(), make_exporter("pdf")->render(trace()));
  REQUIRE(outside::run("pdftoppm -r 50 " + pdf.string() + " " + (folder / "page").string()).code == 0);
  std::size_t blue = 0, green = 0;
  for (const auto& file : std::filesystem::directory_iterator(folder.path())) {
    if (file.path().extension() != ".ppm") continue;
    const std::size_t black = pixels_near(file.path(), 0, 0, 0);
    CAPTURE(file.path().string());
    CHECK(black < 20000);  // of 241,000: text, never an area
    blue += pixels_near(file.path(), 0x0b, 0x5c, 0xad) + pixels_near(file.path(), 0x6d, 0x9e, 0xce);
    green += pixels_near(file.path(), 0x1a, 0x7f, 0x37);
  }
  CHECK(blue > 300);  // the trace
  CHECK(green > 20);  // its levels
}

TEST_CASE("figures say no more than the meter's digit") {
  const std::string page = make_exporter("html")->render(trace());
  CHECK_FALSE(has(page, "0.00046"));
  CHECK_FALSE(has(page, "460.2"));
  CHECK(has(page, "off at 0.0 V"));
  const std::string qualification = make_exporter("html")->render(faulty());
  CHECK_FALSE(std::regex_search(qualification, std::regex("-0\\.0[0-9]")));
  CHECK_FALSE(std::regex_search(qualification, std::regex("[0-9] [kM]?ohm")));  // one spelling: the sign
}

TEST_CASE("a claim joins two records under one front page and a comparison names what changed") {
  const std::string claim = claim_document({faulty(), trace()}, "html");
  CHECK(has(claim, "This claim joins 2 records"));
  CHECK(has(claim, "Trace under power"));
  CHECK(has(claim, "Date and signature of who measured: Bench Operator"));
  const std::string comparison = comparison_document(made_up::record({}), faulty(), "html");
  CHECK(has(comparison, "reads a value now"));
  CHECK(has(comparison, "further readings pass in both"));
  CHECK_THROWS(comparison_document(faulty(), trace(), "html"));
  CHECK_THROWS(claim_document({faulty()}, "csv"));
}

TEST_CASE("two records make a claim only when both say that they are of one piece") {
  struct Row {
    const char* what;
    void (*change)(RecordHeader&);
    bool one;
  };
  const Row rows[] = {
      {"alike", [](RecordHeader&) {}, true},
      {"the tag written another way", [](RecordHeader& h) { h.serial = " s 1"; }, true},
      {"the part not named", [](RecordHeader& h) { h.part.clear(); }, true},
      {"another serial number", [](RecordHeader& h) { h.serial = "S2"; }, false},
      {"no serial number", [](RecordHeader& h) { h.serial.clear(); }, false},
      {"another part", [](RecordHeader& h) { h.part = "R31"; }, false},
      {"judged as another part", [](RecordHeader& h) { h.profile_id = "other"; }, false},
      {"one of them simulated", [](RecordHeader& h) { h.simulated = true; }, false},
  };
  RecordHeader one;
  one.serial = "S1", one.part = "R30", one.profile_id = "regulator";
  for (const Row& row : rows) {
    CAPTURE(row.what);
    RecordHeader other = one;
    row.change(other);
    if (row.one)
      CHECK_NOTHROW(require_one_piece(one, other));
    else
      CHECK_THROWS_AS(require_one_piece(one, other), Error);
  }
}

TEST_CASE("the label's code is read back by another program") {
  REQUIRE_PROGRAM("zbarimg", "zbar-tools");
  REQUIRE_PROGRAM("weasyprint", "weasyprint");
  REQUIRE_PROGRAM("pdftoppm", "poppler-utils");
  Record record = faulty();
  record.header.serial = std::string(300, 'S');
  const example::Folder folder;
  write_file_durably((folder / "label.png").string(), label_png(record));
  const auto read = outside::run("zbarimg -q --raw " + (folder / "label.png").string() + " 2>/dev/null");
  CAPTURE(read.output);
  CHECK(has(read.output, "record: " + record.header.id));
  CHECK(has(read.output, "verdict: fail"));
  CHECK(has(read.output, "chain head: " + record.chain_head));
  write_file_durably((folder / "label.pdf").string(), label_pdf(record));
  CHECK(pages_of(folder / "label.pdf") == 1);
  const auto words = outside::run("pdftotext " + (folder / "label.pdf").string() + " -");
  CHECK(has(words.output, "FAIL"));
  CHECK(has(words.output, record.header.id));
}
