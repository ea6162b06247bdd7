#include "switchwright/report/exporter.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>

#include "core/escape.hpp"
#include "made_up.hpp"
#include "outside.hpp"
#include "record/example.hpp"
#include "report/view.hpp"
#include "skip.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;

namespace {

struct Named {
  const char* name;
  made_up::Choices choices;
};

std::vector<Named> all_kinds() {
  std::vector<Named> all{{"good", {}}, {"faulty", {}}, {"several", {}}, {"unfinished", {}}};
  all[0].choices.simulated = true;
  all[1].choices.faults = {"stuck-closed:cycling"};
  all[2].choices.faults = {"resistive:line=1.9", "drifted:heater=30"};
  all[2].choices.one_skipped = all[2].choices.one_unwitnessed = true;
  all[2].choices.operator_name = all[2].choices.calibrated = "";
  all[3].choices.finished = false;
  return all;
}

std::string rendered(const char* format, const made_up::Choices& choices) {
  return make_exporter(format)->render(made_up::record(choices));
}

std::string content_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// What somebody with bad intentions types for an operator and a part.
made_up::Choices hostile() {
  made_up::Choices choices;
  choices.operator_name = "=HYPERLINK(\"http://x\",\"y\")<script>alert(1)</script>";
  choices.part = "\x1b]0;owned\x07\x1b[2J\"><img src=x onerror=alert(1)>'&\xE2\x80\xAEtxt\xFF";
  choices.one_skipped = true;
  return choices;
}

}  // namespace

TEST_CASE("an unknown format is refused with the known ones") {
  CHECK(export_formats() == std::vector<std::string>{"text", "html", "pdf", "json", "csv"});
  try {
    make_exporter("htm");
    FAIL("it was accepted");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::usage);
    CHECK(error.what_next() == "did you mean \"html\"?");
  }
}

TEST_CASE("the JSON of every kind of record fits the published schema") {
  // Reference: the JSON Schema validator of python3-jsonschema, draft 2020-12.
  if (outside::run(std::string(PYTHON) + " -c 'import jsonschema'").code != 0) {
    test::skip("needs the Debian package python3-jsonschema");
    return;
  }
  const example::Folder folder;
  const std::string script = (folder / "check.py").string();
  std::ofstream(script) << "import json, sys, jsonschema\n"
                           "schema = json.load(open(sys.argv[1]))\n"
                           "jsonschema.Draft202012Validator.check_schema(schema)\n"
                           "document = json.load(open(sys.argv[2]))\n"
                           "errors = list(jsonschema.Draft202012Validator(schema).iter_errors(document))\n"
                           "for e in errors[:5]: print(e.json_path, e.message[:200])\n"
                           "sys.exit(1 if errors else 0)\n";
  const std::string schema = std::string(SOURCE_DIR) + "/src/report/record.schema.json";
  const auto check = [&](const std::string& document) {
    write_file_durably((folder / "record.json").string(), document);
    return outside::run(std::string(PYTHON) + " " + script + " " + schema + " " + (folder / "record.json").string());
  };
  for (const Named& kind : all_kinds()) {
    CAPTURE(kind.name);
    const auto result = check(rendered("json", kind.choices));
    CAPTURE(result.output);
    CHECK(result.code == 0);
  }
  {
    Store store(folder / "other.sqlite");
    const auto result = check(make_exporter("json")->render(store.load(example::write_whole_record(store), true)));
    CAPTURE(result.output);
    CHECK(result.code == 0);
  }
  CHECK(check(rendered("json", hostile())).code == 0);
  // The schema is worth something only if it refuses what is wrong.
  struct Wrong {
    const char* from;
    const char* to;
  };
  for (const Wrong& wrong : {Wrong{"\"over-range\"", "\"open\""}, Wrong{"\"batches\": ", "\"batch\": "},
                             Wrong{"\"schema_version\": 1", "\"schema_version\": \"1\""},
                             Wrong{"\"outcome\": \"pass\"", "\"outcome\": \"good\""}}) {
    CAPTURE(wrong.to);
    const std::string good = rendered("json", {});
    REQUIRE(has(good, wrong.from));
    CHECK(check(std::regex_replace(good, std::regex(wrong.from), wrong.to)).code == 1);
  }
}

TEST_CASE("the HTML is well formed and refers to nothing outside itself") {
  REQUIRE_PROGRAM("xmllint", "libxml2-utils");
  const example::Folder folder;
  for (const Named& kind : all_kinds()) {
    CAPTURE(kind.name);
    const std::string page = rendered("html", kind.choices);
    write_file_durably((folder / "report.html").string(), page);
    // libxml2's HTML parser predates HTML5: it does not know these element names, which is not an error of
    // ours.
    const auto html =
        outside::run("xmllint --html --noout " + (folder / "report.html").string() +
                     " 2>&1 | grep 'error' | grep -vE 'Tag (svg|title|desc|defs|pattern|rect|line|circle|path|text|g|"
                     "main|header|footer|section|details|summary|figure) invalid'");
    CAPTURE(html.output);
    CHECK(html.output.empty());
    for (const char* outside_reference : {"<script", "<link", "@import", "src=", "url(http", "href=\"http", "<iframe"})
      CHECK_FALSE(has(page, outside_reference));
    // Each picture stands alone as XML.
    std::size_t pictures = 0;
    for (auto from = page.find("<svg xmlns"); from != std::string::npos; from = page.find("<svg xmlns", from + 1)) {
      write_file_durably((folder / "picture.svg").string(), page.substr(from, page.find("</svg>", from) + 6 - from));
      const auto svg = outside::run("xmllint --noout " + (folder / "picture.svg").string());
      CAPTURE(svg.output);
      CHECK(svg.code == 0);
      ++pictures;
    }
    CHECK(pictures == 3);  // schematic, matrix, axis
  }
}

TEST_CASE("the verdict comes first and what the reader must know is there") {
  struct Row {
    const char* format;
    const char* kind;
    std::vector<std::string> texts;  // in this order
  };
  const Row rows[] = {
      {"text",
       "faulty",
       {"FAIL: ", "WHAT DEVIATES", "CRITICAL: ", "L2-H2", "READINGS", "X 0.0 ohm", "Bench Operator", "2025-11-14",
        "guarded acceptance", "de-energised", "CAUTIONS", "Local codes", "no continuity at the meter's test voltage",
        "chain head"}},
      {"text", "good", {"SIMULATED", "PASS", "Nothing of the part.", "simulator"}},
      {"text",
       "several",
       {"FAIL: ", "WHAT IS NOT DECIDED", "WHAT WAS NOT MEASURED", "P-CASE at high", "nobody signs",
        "unknown: these readings", "skipped"}},
      {"text", "unfinished", {"UNFINISHED: ", "not ended"}},
      {"html",
       "faulty",
       {"<h1>Fail", "invented for demonstration", "Meter last calibrated", "2025-11-14", "What deviates", "critical",
        "<title id=\"schematic-title\">", "Every pair at every position", "<title id=\"matrix-title\">",
        "FAIL: L2-H1 at off", "</svg>", "<title id=\"axis-title\">", "Every reading", "Before and during",
        "de-energised", "Cautions", "no continuity at the meter&#39;s test voltage", "Chain head"}},
      {"html", "good", {"Simulated, not a real part", "<h1>Pass", "Nothing that was measured deviates"}},
      {"html", "several", {"not stated", "What is not decided", "What was not measured", "not sound"}},
      {"html", "unfinished", {"<h1>unfinished</h1>", "Nothing here says that the part is good"}},
  };
  for (const Row& row : rows) {
    for (const Named& kind : all_kinds()) {
      if (std::string(kind.name) != row.kind) continue;
      std::string document = rendered(row.format, kind.choices);
      if (row.format == std::string("text")) document = std::regex_replace(document, std::regex("\n +"), " ");
      std::size_t from = 0;
      for (const std::string& text : row.texts) {
        CAPTURE(row.format);
        CAPTURE(row.kind);
        CAPTURE(text);
        const auto at = document.find(text, from);
        CHECK(at != std::string::npos);
        if (at != std::string::npos) from = at;
      }
    }
  }
}

TEST_CASE("a picture tells each state by word and shape and not by colour alone") {
  const std::string page = rendered("html", all_kinds()[2].choices);
  const auto from = page.rfind("<svg xmlns", page.find("matrix-title\">")), to = page.find("</svg>", from);
  const std::string matrix = page.substr(from, to - from);
  for (const char* word : {"FAIL: out of band", "undecided", "no witness", "not measured", "closed, not sound"}) {
    CAPTURE(word);
    CHECK(has(matrix, word));
  }
  CHECK(has(matrix, "stroke-dasharray"));
  CHECK(has(matrix, "url(#matrix-hatch)"));
}

TEST_CASE("text from outside is harmless in every format") {
  const Record record = made_up::record(hostile());
  const std::string html = make_exporter("html")->render(record);
  CHECK_FALSE(has(html, "<script"));
  CHECK_FALSE(has(html, "<img"));
  CHECK(has(html, "&lt;script&gt;"));
  for (const std::string format : {"text", "html", "csv"}) {
    CAPTURE(format);
    const std::string document = make_exporter(format)->render(record);
    CHECK_FALSE(has(document, "\x1b"));
    CHECK_FALSE(has(document, "\x07"));
    CHECK_FALSE(has(document, "\xE2\x80\xAE"));
  }
}

TEST_CASE("a CSV field that a spreadsheet would run is made a text") {
  struct Row {
    std::string from;
    std::string field;
  };
  // First characters: common advice against CSV injection; quoting: RFC 4180 2.6 and 2.7.
  const Row rows[] = {
      {"=1+1", "\"'=1+1\""},
      {"+49 30", "\"'+49 30\""},
      {"-2", "\"'-2\""},
      {"@SUM(A1)", "\"'@SUM(A1)\""},
      {"\t=1", "\"' =1\""},
      {"\r=1", "\"' =1\""},
      {"  =1", "\"'  =1\""},
      {"plain", "plain"},
      {"a,b", "\"a,b\""},
      {"say \"x\"", "\"say \"\"x\"\"\""},
      {"", ""},
      {"two\nlines", "two lines"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.from);
    CHECK(csv_text(row.from) == row.field);
  }
}

TEST_CASE("the CSV is read by another program with numbers as numbers") {
  // Reference: Python's csv module. 15 pairs at 4 positions; the made-up readings are those of the network:
  // 14400 ohm through the heater, leads 0.2 ohm.
  const example::Folder folder;
  write_file_durably((folder / "r.csv").string(), rendered("csv", all_kinds()[1].choices));
  std::ofstream(folder / "check.py") << R"py(
import csv, sys
rows = list(csv.DictReader(open(sys.argv[1], newline='')))
assert len(rows) == 60, len(rows)
row = {(r['terminal_1'], r['terminal_2'], r['position']): r for r in rows}
heater = row['H1', 'H2', 'off']
assert float(heater['corrected']) == 14399.8, heater
assert float(heater['shown']) == 14400 and heater['unit'] == 'ohm'
assert 12240 == float(heater['expected_min_ohm'])
assert heater['outcome'] == 'pass' and heater['expected'] == 'element'
stuck = row['L2', 'H2', 'off']
assert (stuck['outcome'], stuck['deviation'], stuck['severity']) == ('fail', 'stays-closed', 'critical'), stuck
assert stuck['expected_max_ohm'] == ''
case = row['L1', 'CASE', 'off']
assert case['shown'] == '' and float(case['beyond']) == 40e6 and case['reading_state'] == 'over-range'
assert all(None not in r and None not in r.values() for r in rows)
)py";
  const auto result =
      outside::run(std::string(PYTHON) + " " + (folder / "check.py").string() + " " + (folder / "r.csv").string());
  CAPTURE(result.output);
  CHECK(result.code == 0);
}

TEST_CASE("the PDF holds the text of the report") {
  REQUIRE_PROGRAM("weasyprint", "weasyprint");
  REQUIRE_PROGRAM("pdftotext", "poppler-utils");
  const example::Folder folder;
  write_file_durably((folder / "report.pdf").string(), rendered("pdf", all_kinds()[1].choices));
  const auto text = outside::run("pdftotext -layout " + (folder / "report.pdf").string() + " -");
  CHECK(text.code == 0);
  for (const char* part :
       {"FAIL", "What deviates", "L2\xE2\x80\x93H2", "cycling contact", "MU-0042", "Cautions", "14.40 k\xCE\xA9"}) {
    CAPTURE(part);
    CHECK(has(text.output, part));
  }
}

TEST_CASE("without weasyprint a PDF is refused with the package to install") {
  const std::string path = std::getenv("PATH");
  const example::Folder folder;
  ::setenv("PATH", folder.path().c_str(), 1);
  std::string next;
  try {
    rendered("pdf", {});
  } catch (const Error& error) {
    next = error.what_next();
  }
  ::setenv("PATH", path.c_str(), 1);
  CHECK(has(next, "Debian package weasyprint"));
}

TEST_CASE("a value and its uncertainty share prefix and decimals") {
  // JCGM 100 7.2.6: U with at most two significant digits, the value rounded to match.
  CHECK(value_text(14399.8, 172.0, Quantity::resistance, 10) == "14.40 kohm");
  CHECK(uncertainty_text(14399.8, 172.0, Quantity::resistance) == "0.17 kohm");
  CHECK(uncertainty_text(0.3, 0.583, Quantity::resistance) == "0.58 ohm");
  // A meter that shows tenths says nothing about hundredths, and nobody knows a value better than its last digit.
  CHECK(value_text(0.3, 0.583, Quantity::resistance, 0.1) == "0.3 ohm");
  CHECK(uncertainty_text(0.3, 0.583, Quantity::resistance, 0.1) == "0.6 ohm");
  CHECK(value_text(-0.03, 0.583, Quantity::resistance, 0.1) == "0.0 ohm");
  CHECK(uncertainty_text(0.3, 0.004, Quantity::resistance, 0.1) == "0.1 ohm");
  CHECK(value_text(-0.001, 0.5, Quantity::resistance, 0.1) == "0.0 ohm");
  CHECK(value_text(1.25, std::nullopt, Quantity::resistance, 0.01) == "1.25 ohm");
}

TEST_CASE("a file is replaced whole or not at all") {
  const example::Folder folder;
  const std::string path = (folder / "report.txt").string();
  write_file_durably(path, "old");
  write_file_durably(path, "new");
  CHECK(content_of(path) == "new");
  CHECK(std::distance(std::filesystem::directory_iterator(folder.path()), {}) == 1);
  try {
    write_file_durably((folder / "no/such/report.txt").string(), "x");
    FAIL("it was written");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::store);
    CHECK(has(error.what_next(), "mkdir -p"));
  }
  std::filesystem::create_directory(folder / "taken");
  std::ofstream(folder / "taken/file") << "x";
  CHECK_THROWS_AS(write_file_durably((folder / "taken").string(), "x"), Error);
  CHECK(std::distance(std::filesystem::directory_iterator(folder.path()), {}) == 2);
}

TEST_CASE("reports of made-up records are left where SWITCHWRIGHT_LOOKS says for somebody to look at") {
  const char* folder = std::getenv("SWITCHWRIGHT_LOOKS");
  if (folder == nullptr) return;
  std::filesystem::create_directories(folder);
  for (const Named& kind : all_kinds())
    for (const std::string& format : export_formats()) {
      const auto exporter = make_exporter(format);
      write_file_durably((std::filesystem::path(folder) / (kind.name + exporter->extension())).string(),
                         exporter->render(made_up::record(kind.choices)));
    }
}
