// What lies in a bag beside the record: tables, the print, what was attached. References: Python's csv module, pdfinfo,
// sha256sum.
#include <doctest/doctest.h>

#include <cmath>

#include "bagged.hpp"
#include "switchwright/core/error.hpp"

using namespace bagged;

namespace {

std::string python(const fs::path& bag, const std::string& code) {
  std::ofstream(bag.parent_path() / "read.py") << "import csv, json\nr = json.load(open('data/record.json'))\n" << code;
  const auto said = outside::run("cd " + bag.string() + " && " + PYTHON + " ../read.py");
  return said.output;
}

}  // namespace

TEST_CASE("every reading of a record is a row with its step, pair, position, part and serial number") {
  const Bagged bagged;
  // The record's own JSON says what there must be; another program reads both.
  const std::string said = python(bagged.bag(), R"py(
rows = list(csv.DictReader(open('data/readings.csv', newline='')))
steps = {s['step']: s for s in r['steps']}
assert len(rows) == len(r['readings']) > 100, (len(rows), len(r['readings']))
for row, reading in zip(rows, r['readings']):
    step = steps[reading['step']]
    assert row['step'] == str(reading['step'])
    assert [row['terminal_1'], row['terminal_2']] == step['pair'], (row, step)
    assert row['position'] == step['position'] and row['step_kind'] == step['kind']
    assert (row['part'], row['serial']) == ('made-up regulator 240 V', 'MU-0042')
    assert row['at'] == reading['at'] and row['raw'] == reading['raw'] and row['state'] == reading['state']
    assert (float(row['value']) if row['value'] else None) == reading.get('value')
print('agreed')
)py");
  CHECK(said == "agreed\n");
}

TEST_CASE("the samples and the cycles of a trace are tables that another program comes to by itself") {
  const example::Folder folder;
  Store store(folder / "records.sqlite");
  RecordHeader header = example::header();
  header.kind = RecordKind::trace;
  const std::string id = store.begin(header);
  Batch batch;
  batch.trace = TraceSetup{"low", "", 240.0, "", {}, {}};
  for (int c = 1; c <= 2; ++c)
    batch.channels.push_back({c, c == 1 ? "load" : "line", "voltage-ac", "made-up", "", "", "", "", "", ""});
  store.append(id, batch);
  for (int second = 0; second < 900; ++second) {
    Batch samples;
    for (int i = 0; i < 4; ++i)
      for (int c = 1; c <= 2; ++c) {
        const double t_s = second + 0.25 * i + 0.1 * c;
        const bool on = c == 2 || std::fmod(t_s, 32.0) < 12.0;  // 12 s on, 20 s off
        samples.samples.push_back({c, t_s, ReadingState::finite, on ? 240.0 : 0.1, 0.1, ""});
      }
    store.append(id, samples);
  }
  Batch last;
  last.ended = example::at(901).wall;
  store.append(id, last);
  write_bag([&](const auto& take) { store.each_link(id, take); }, folder / "bag");
  CHECK(check_bag(folder / "bag").problems.empty());
  const std::string said = python(folder / "bag", R"py(
header, *rows = list(csv.reader(open('data/trace.csv', newline='')))
assert header[0] == 't_s' and len(header) == 3, header
assert len(rows) == len(r['samples']) == 7200
load = []
for row, sample in zip(rows, r['samples']):
    assert abs(float(row[0]) - sample['t_s']) < 1e-6
    assert float(row[sample['channel']]) == sample['value'] and row[3 - sample['channel']] == ''
    if sample['channel'] == 1:
        load.append((float(row[0]), float(row[1])))
# Cycles by hand: where the voltage passes half of 240 V, between two samples.
rises = [(a + b) / 2 for (a, x), (b, y) in zip(load, load[1:]) if x < 120 <= y]
falls = [(a + b) / 2 for (a, x), (b, y) in zip(load, load[1:]) if y < 120 <= x]
cycles = list(csv.DictReader(open('data/cycles.csv', newline='')))
assert len(cycles) == len(rises) - 1 and len(cycles) >= 26, (len(cycles), len(rises))
for n, (cycle, begin, end) in enumerate(zip(cycles, rises, rises[1:]), 1):
    fall = next(f for f in falls if f > begin)
    assert (cycle['channel'], cycle['cycle']) == ('load', str(n))
    assert (cycle['record'], cycle['part'], cycle['serial']) == (r['header']['id'], 'made-up regulator', '0001')
    for name, value in (('start_s', begin), ('on_s', fall - begin), ('off_s', end - fall), ('period_s', end - begin)):
        assert abs(float(cycle[name]) - value) <= 0.25, (name, cycle, value)  # one sample
    assert cycle['gap'] == 'no' and cycle['trusted'] == 'yes'
print('agreed')
)py");
  CHECK(said == "agreed\n");
}

TEST_CASE("what was attached lies in the bag, unchanged, under a name that every disk takes") {
  const Bagged bagged;
  std::ifstream in(bagged.bag() / "data/attachments/01-a_photo.jpg");
  CHECK(std::string{std::istreambuf_iterator<char>(in), {}} == "not really a photo\n");
  CHECK(check_bag(bagged.bag()).problems.empty());
}

TEST_CASE("another file in the place of an attachment is told, whatever the manifests say") {
  const Bagged bagged;
  std::ofstream(bagged.bag() / "data/attachments/01-a_photo.jpg") << "another photo\n";
  bagged.seal_again();
  CHECK(any(check_bag(bagged.bag()).problems, "is not the file that was attached"));
  const Bagged without;
  fs::remove(without.bag() / "data/attachments/01-a_photo.jpg");
  without.seal_again();
  CHECK(any(check_bag(without.bag()).problems, "01-a_photo.jpg is missing; the chain names it"));
}

TEST_CASE("a bag sealed without its attachments says so and a check tells it") {
  const Bagged bagged;
  const auto folder = bagged.bag().parent_path() / "lean";
  write_bag(bagged.links(), folder);
  const BagReport report = check_bag(folder);
  CAPTURE(all(report.problems));
  CHECK(report.problems.empty());
  CHECK(any(report.cautions, "a photo.jpg was left out when the bag was sealed"));
}

TEST_CASE("a record whose attachment is gone from the bench is not sealed as if it were there") {
  const Bagged bagged;
  const example::Folder elsewhere;
  const auto third = bagged.bag().parent_path() / "third";
  CHECK_THROWS_WITH_AS(write_bag(bagged.links(), third, {std::nullopt, std::nullopt, elsewhere / "records.sqlite"}),
                       doctest::Contains("a photo.jpg is missing"), Error);
  CHECK_FALSE(fs::exists(third));
}

TEST_CASE("the print in a bag is the one that its chain makes, and another one does not pass for it") {
  REQUIRE_PROGRAM("weasyprint", "weasyprint");
  REQUIRE_PROGRAM("pdfinfo", "poppler-utils");
  for (const Paper paper : {Paper::a4, Paper::letter}) {
    const Bagged bagged(true, {std::nullopt, paper, std::nullopt});
    const auto info = outside::run("pdfinfo " + (bagged.bag() / "data/report.pdf").string());
    CHECK(info.output.find(paper == Paper::letter ? "letter" : "A4") != std::string::npos);
    BagReport report = check_bag(bagged.bag());
    CHECK(report.problems.empty());
    CHECK(report.cautions.empty());
    if (paper == Paper::letter) continue;
    // A print that says something else, sealed again by somebody without the key.
    bagged.replace("data/report.pdf", "WeasyPrint", "weasyprint");
    fs::remove(bagged.bag() / "public-key.pem");
    fs::remove(bagged.bag() / "tagmanifest-sha256.txt.sig");
    bagged.seal_again();
    report = check_bag(bagged.bag());
    CHECK(any(report.cautions, "data/report.pdf is not the print"));
    CHECK(report.problems.empty());
  }
}
