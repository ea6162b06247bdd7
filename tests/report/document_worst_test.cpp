// The worst records that a bench could keep, on paper: few pages all the same, the first with all that a desk must know, nothing
// left out uncounted. References: poppler-utils (pdfinfo, pdftotext, pdftoppm).
#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <regex>

#include "made_up.hpp"
#include "outside.hpp"
#include "record/example.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/explain/diagnosis.hpp"
#include "switchwright/record/additions.hpp"
#include "switchwright/report/exporter.hpp"

using namespace switchwright;

namespace {

std::string long_text(const std::string& begin, std::size_t length) {
  std::string text = begin;
  while (text.size() < length) text += " Words Without End 0123456789";
  return text.substr(0, length);
}

Record faulty() {
  made_up::Choices choices;
  choices.faults = {"stuck-closed:cycling"};
  return made_up::record(choices);
}

/// Everything that has a text has a long one, everything that is a list has hundreds.
Record with_long_texts(Record record) {
  RecordHeader& h = record.header;
  h.serial = "SN" + std::string(298, '7');
  h.part = long_text("Part", 300);
  h.operator_name = long_text("Operator", 300);
  h.profile_title = long_text("Profile", 500);
  h.profile_values = long_text("Values invented", 800);
  h.meter_title = long_text("Meter", 300);
  h.meter_serial = std::string(300, 'W');
  h.meter_calibrated = long_text("2025-11-14, certificate", 300);
  h.port = long_text("/dev/serial", 300);
  h.zone = "CET";
  h.utc_offset_min = 60;
  h.claim = {long_text("WO", 300),    long_text("Range", 300), long_text("RS", 300),     long_text("2547", 300),
             long_text("Parts", 300), long_text("L-77", 300),  long_text("Remark", 2000)};
  h.simulated = true;
  for (int i = 0; i < 60; ++i) {
    record.events.push_back(event_of(AddedNote{example::at(i).wall, "Desk", long_text("Note", 2000)}));
    record.events.push_back(event_of(
        Attachment{example::at(i).wall, "Desk", long_text("photo", 200) + ".jpg", 12345, std::string(64, 'a')}));
    record.events.push_back({example::at(i).wall, "link-lost", long_text("The cable", 600)});
  }
  return record;
}

Record with_everything_failing() {
  Record record = with_long_texts(faulty());
  Verdict& v = *record.verdict;
  v.headline = long_text("All that could deviate deviates", 1500);
  for (Finding& f : v.findings) {
    f.outcome = f.continuity = Outcome::fail;
    f.kind = DeviationKind::stays_closed;
    f.severity = Severity::critical;
    f.sentence = long_text("This pair deviates", 700);
  }
  for (const ScopePart part : scope_parts) v.scope.fails(part, long_text("it deviates", 600));
  for (int i = 0; i < 80; ++i) {
    v.remarks.push_back(long_text("Remark " + std::to_string(i), 900));
    InspectionFinding question;
    question.question = {long_text("Question " + std::to_string(i), 500), Severity::major};
    question.answer = i % 2 == 0;
    question.note = long_text("Answer", 500);
    v.inspection.push_back(question);
    StatedFinding stated;
    stated.outcome = Outcome::fail;
    stated.sentence = long_text("Stated", 600);
    v.stated.push_back(stated);
    Expectation skipped = v.findings.front().expected;
    skipped.reason = long_text("no access", 400);
    v.not_measured.push_back(skipped);
  }
  REQUIRE(v.diagnosis);
  for (ExplainedFault& e : v.diagnosis->explanations) {
    e.words = long_text("a fault", 500);
    e.probability = 0.3;
    e.consequences.resize(1);
    e.consequences[0].means = e.consequences[0].next = long_text("It means", 700);
  }
  for (int i = 0; i < 9; ++i) v.diagnosis->explanations.push_back(v.diagnosis->explanations.front());
  return record;
}

/// Twelve terminals at eight positions: 528 readings, as many voltages.
Record of_a_large_part() {
  Record record = with_long_texts(faulty());
  Verdict& v = *record.verdict;
  const std::vector<Finding> kept = v.findings;
  v.findings.clear();
  for (int a = 0; a < 12; ++a)
    for (int b = a + 1; b < 12; ++b)
      for (int position = 0; position < 8; ++position) {
        Finding f = kept[static_cast<std::size_t>(a + b + position) % kept.size()];
        f.expected.pair = Pair("T" + std::to_string(a), "T" + std::to_string(b));
        f.expected.position = "setting " + std::to_string(position);
        v.findings.push_back(f);
        VoltageFinding volts = example::verdict().voltages.front();
        volts.expected.pair = f.expected.pair;
        volts.expected.position = f.expected.position;
        if (b % 3 == 0) volts.outcome = Outcome::undecided;
        if (b % 3 == 1) volts.outcome = Outcome::pass;
        v.voltages.push_back(volts);
      }
  v.supply = example::verdict().supply;
  return record;
}

Record trace_of(int channels) {
  Record record = with_long_texts(faulty());
  record.header.kind = RecordKind::trace;
  record.verdict.reset();
  record.trace = TraceSetup{"medium", long_text("between two marks", 300), 240.0, "2800W@240", 20.57, 23.0};
  for (int c = 1; c <= channels; ++c) {
    TraceChannel channel;
    channel.channel = c;
    channel.name = c == 1 ? "load" : c == 2 ? "line" : "clamp " + std::to_string(c);
    channel.role = c == 1 ? "load" : c == 2 ? "line" : "other";
    channel.quantity = "voltage-ac";
    channel.meter_title = long_text("made-up meter", 200);
    channel.port = "/dev/ttyUSB0";
    record.channels.push_back(channel);
  }
  for (int i = 0; i < 2400; ++i)
    for (int c = 1; c <= channels; ++c) {
      const double t_s = i * 0.5 + 0.01 * c;
      const bool on = c == 2 || std::fmod(t_s + 3.0, 32.0) < (i < 1200 ? 12.0 : 25.0);
      record.samples.push_back({c, t_s, ReadingState::finite, on ? 240.0 : 0.0, 0.1, ""});
    }
  Verdict verdict;
  verdict.scope.fails(ScopePart::timing, long_text("the on time is too long", 600));
  conclude(verdict);
  record.verdict = verdict;
  return record;
}

Record unfinished() {
  made_up::Choices choices;
  choices.finished = false;
  return with_long_texts(made_up::record(choices));
}

struct Sheet {
  int black = 0, coloured = 0, all = 0;
};
Sheet sheet(const std::filesystem::path& ppm) {
  const std::string bytes = outside::pixels_of(ppm);
  Sheet found;
  for (std::size_t i = 0; i + 2 < bytes.size(); i += 3) {
    const auto at = [&](std::size_t k) { return static_cast<int>(static_cast<unsigned char>(bytes[i + k])); };
    const int high = std::max({at(0), at(1), at(2)}), low = std::min({at(0), at(1), at(2)});
    ++found.all;
    if (high < 40) ++found.black;
    if (high - low > 60) ++found.coloured;
  }
  return found;
}

struct Row {
  const char* name;
  Record record;
  Paper paper;
  int most;
  std::vector<std::string> counted;  ///< what must be told as left out
};

void check(const Row& row) {
  const char* keep = std::getenv("SWITCHWRIGHT_KEEP_DOCUMENTS");  // a folder: look at them
  CAPTURE(row.name);
  const example::Folder folder;
  const auto pdf = folder / "report.pdf";
  write_file_durably(pdf.string(), make_exporter("pdf", row.paper)->render(row.record));
  if (keep != nullptr) std::filesystem::copy_file(pdf, std::filesystem::path(keep) / (row.name + std::string(".pdf")));
  const auto info = outside::run("pdfinfo " + pdf.string());
  std::smatch found;
  REQUIRE(std::regex_search(info.output, found, std::regex("Pages: +([0-9]+)")));
  const int pages = std::stoi(found[1]);
  CHECK(pages >= 2);
  CHECK(pages <= row.most);
  const auto text_of = [&](int page) {
    const std::string number = std::to_string(page);
    return outside::run("pdftotext -layout -f " + number + " -l " + number + " " + pdf.string() + " -").output;
  };
  std::string all;
  for (int page = 1; page <= pages; ++page) {
    const std::string text = text_of(page);
    all += text;
    CAPTURE(page);
    for (const std::string& part : {std::string("Serial SN777"), row.record.header.id, row.record.chain_head,
                                    "page " + std::to_string(page) + " of " + std::to_string(pages)}) {
      CAPTURE(part);
      CHECK(text.find(part) != std::string::npos);
    }
  }
  const std::string first = text_of(1);
  for (const char* part :
       {"240 V, 15 A", "Values invented", "Profile", "calibrated", "Serial number", "The network at"}) {
    CAPTURE(part);
    CHECK(first.find(part) != std::string::npos);
  }
  CHECK(std::regex_search(first, std::regex("FAIL|UNDECIDED|UNFINISHED")));
  if (row.record.verdict) CHECK(first.find("What deviates") != std::string::npos);
  for (const std::string& words : row.counted) {
    CAPTURE(words);
    CHECK(all.find(words) != std::string::npos);
  }
  CHECK(all.find("evidence") != std::string::npos);
  CHECK(all.find("Cautions") != std::string::npos);

  // No page is a picture without its colours, and none is a black area.
  REQUIRE(outside::run("pdftoppm -r 40 " + pdf.string() + " " + (folder / "page").string()).code == 0);
  int coloured = 0;
  for (const auto& file : std::filesystem::directory_iterator(folder.path())) {
    if (file.path().extension() != ".ppm") continue;
    const Sheet seen = sheet(file.path());
    CAPTURE(file.path().string());
    CHECK(seen.black < seen.all / 8);
    coloured += seen.coloured;
  }
  CHECK(coloured > 400);
}

}  // namespace

#define REQUIRE_PRINTER                        \
  REQUIRE_PROGRAM("weasyprint", "weasyprint"); \
  REQUIRE_PROGRAM("pdfinfo", "poppler-utils")

TEST_CASE("a qualification in which everything fails, with long texts everywhere, stays on four pages") {
  REQUIRE_PRINTER;
  check({"everything fails",
         with_everything_failing(),
         Paper::a4,
         4,
         {"more that deviate", "more remarks", "more events"}});
}

TEST_CASE("the same stays on four pages of letter") {
  REQUIRE_PRINTER;
  check({"everything fails, letter",
         with_everything_failing(),
         Paper::letter,
         4,
         {"more questions", "notes before these"}});
}

TEST_CASE("the same in practice has its band and stays on four pages") {
  REQUIRE_PRINTER;
  Record training = with_everything_failing();
  training.header.kind = RecordKind::practice;
  check({"practice", training, Paper::letter, 4, {"Practice: simulated readings"}});
}

TEST_CASE("a part of twelve terminals at eight positions, cold and under power, stays on four pages") {
  REQUIRE_PRINTER;
  check({"a large part", of_a_large_part(), Paper::letter, 4, {"more readings", "more voltages", "more pairs"}});
}

TEST_CASE("traces of two and of nine channels stay on five pages") {
  REQUIRE_PRINTER;
  check({"two channels", trace_of(2), Paper::a4, 5, {"more events"}});
  check({"nine channels", trace_of(9), Paper::letter, 5, {"more channels", "files before these"}});
}

TEST_CASE("an unfinished record with long texts stays on four pages") {
  REQUIRE_PRINTER;
  check({"unfinished", unfinished(), Paper::letter, 4, {"more events"}});
}
