#include "switchwright/record/store.hpp"

#include <doctest/doctest.h>
#include <sqlite3.h>
#include <sys/stat.h>

#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>

#include "example.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/sha256.hpp"

using namespace switchwright;
using namespace example;

namespace {

/// Changes a store behind the tool's back, as somebody with another program would.
void meddle(const std::filesystem::path& path, const std::string& sql) {
  sqlite3* handle = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
  char* message = nullptr;
  const int code = sqlite3_exec(handle, sql.c_str(), nullptr, nullptr, &message);
  INFO((message == nullptr ? "" : message));
  CHECK(code == SQLITE_OK);
  sqlite3_free(message);
  sqlite3_close(handle);
}

Error error_of(const std::function<void()>& act) {
  try {
    act();
  } catch (const Error& error) {
    return error;
  }
  FAIL("no error came");
  throw std::logic_error("unreachable");
}

}  // namespace

TEST_CASE("a record comes back from the store as it was written") {
  const Folder folder;
  std::string id;
  {
    Store store(folder / "records.sqlite");
    id = write_whole_record(store);
    CHECK(id.starts_with("20260301-091502-"));
    CHECK(id.size() == 20);
  }
  const Store store(folder / "records.sqlite");
  const Record record = store.load(id, true);

  CHECK(record.header.operator_name == "Operator One");
  CHECK(record.header.profile_text == header().profile_text);
  CHECK(record.header.meter_calibrated.empty());
  CHECK(record.header.started == start);
  CHECK(record.batches == 4);
  CHECK(record.ended == at(11.0).wall);
  REQUIRE(record.acknowledgements.size() == 1);
  CHECK(record.acknowledgements[0].text == "The part is disconnected and proven dead.");

  REQUIRE(record.readings.size() == 3);
  const Reading& second = record.readings[1].reading;
  CHECK(second.value == 0.3);
  CHECK(second.flags == reading(0, 0).flags);
  CHECK(second.raw == std::string("\x1b\x00\xff\r\n", 5));
  CHECK(second.at.wall == at(4.25).wall);
  CHECK(seconds_between(record.readings[0].reading.at.monotonic, second.at.monotonic) == 0.25);
  // The first moment of the batch that came first is 2 s after the start.
  CHECK(seconds_between(Monotonic{}, second.at.monotonic) == 4.25);

  REQUIRE(record.leads_before);
  CHECK(record.leads_before->value == 0.2);
  REQUIRE(record.leads_after);
  CHECK(record.leads_after->value == 0.1);

  REQUIRE(record.verdict);
  const Verdict& kept = *record.verdict;
  const Verdict written = verdict();
  CHECK(kept.outcome == Outcome::fail);
  CHECK(kept.headline == written.headline);
  REQUIRE(kept.findings.size() == 3);
  const Finding& bad = kept.findings[0];
  CHECK(bad.expected.pair.text() == "L2-H2");
  CHECK(bad.expected.ohm == written.findings[0].expected.ohm);
  CHECK(bad.expected.can_make_live);
  CHECK(bad.indication.value == 0.4);
  CHECK(bad.indication.flags.low_battery);
  CHECK(bad.indication.to.wall == at(7.75).wall);
  CHECK(bad.corrected == 0.3);
  CHECK(bad.U == 0.25);
  CHECK(bad.p_conform == 0.001);
  CHECK(bad.kind == DeviationKind::stays_closed);
  CHECK(bad.severity == Severity::critical);
  CHECK(bad.sentence == written.findings[0].sentence);
  CHECK(kept.findings[1].sound == Outcome::undecided);
  CHECK(kept.findings[1].expected.sound_max_ohm == 0.1);
  CHECK_FALSE(kept.findings[1].kind);
  CHECK(kept.findings[2].indication.state == ReadingState::over_range);
  CHECK(kept.findings[2].indication.beyond == 40e6);
  CHECK_FALSE(kept.findings[2].corrected);
  CHECK(kept.findings[2].witness == Witness::missing);
  REQUIRE(kept.inspection.size() == 2);
  CHECK(kept.inspection[0].answer == false);
  CHECK(kept.inspection[0].note == "blue on H1");
  CHECK_FALSE(kept.inspection[1].answer);
  REQUIRE(kept.not_measured.size() == 1);
  CHECK(kept.not_measured[0].reason == "skipped: no access");
  CHECK(kept.remarks == written.remarks);
  CHECK(kept.scope == written.scope);
  CHECK(kept.required == written.required);
  REQUIRE(kept.stated.size() == 1);
  CHECK(kept.stated[0].result == written.stated[0].result);
  CHECK(kept.stated[0].wanted.limit == written.stated[0].wanted.limit);
  CHECK(kept.stated[0].outcome == Outcome::pass);
  REQUIRE(record.stated.size() == 1);
  CHECK(record.stated[0] == stated());
  CHECK(store.list().front().scope == written.scope);
  CHECK(store.check_chain(id).empty());
}

TEST_CASE("the chain can be followed without the tool") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  const std::string id = write_whole_record(store);
  std::string previous;
  for (const std::string& link : store.chain(id)) {
    CHECK(nlohmann::json::parse(link)["previous"] == previous);
    previous = sha256_hex(link);
  }
  CHECK(store.load(id).chain_head == previous);
}

TEST_CASE("a change to anything that is kept is found and named") {
  struct Row {
    const char* sql;
    const char* found;
  };
  const Row rows[] = {
      {"UPDATE finding SET corrected = 9e9 WHERE n = 0", "finding, row 1"},
      {"UPDATE finding SET outcome = 'pass', kind = NULL, severity = NULL", "finding, row 1"},
      {"UPDATE verdict SET outcome = 'pass'", "verdict, column outcome"},
      {"UPDATE reading SET value = 0.31 WHERE n = 1", "reading, row 2"},
      {"UPDATE reading SET raw = x'00' WHERE n = 2", "reading, row 3"},
      {"UPDATE record SET serial = '0002'", "record, column serial"},
      {"UPDATE meter SET calibrated = '2026-01-01'", "meter, column calibrated"},
      {"UPDATE acknowledgement SET who = 'Operator Two'", "acknowledgement, row 1"},
      {"UPDATE leads SET value = 0.0 WHERE when_taken = 'before'", "leads, row 1"},
      {"UPDATE ended SET at = '2026-03-02T00:00:00.000Z'", "ended, column at"},
      {"DELETE FROM inspection", "inspection: rows are missing or were added"},
      {"DELETE FROM remark", "remark: rows are missing or were added"},
      {"INSERT INTO event (record_id, seq, n, kind) SELECT id, 3, 0, 'x' FROM record",
       "event: rows are missing or were added"},
      {"INSERT INTO event (record_id, seq, n, kind) SELECT id, 9, 0, 'x' FROM record",
       "belong to a batch that is missing"},
      {"UPDATE batch SET canonical = replace(canonical, '0.3', '0.2') WHERE seq = 3", "no longer have the SHA-256"},
      {"UPDATE batch SET sha256 = previous WHERE seq = 2", "no longer have the SHA-256"},
      {"DELETE FROM batch WHERE seq = 2", "batch 2: this batch is missing"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.sql);
    const Folder folder;
    Store store(folder / "records.sqlite");
    const std::string id = write_whole_record(store);
    REQUIRE(store.check_chain(id).empty());
    meddle(folder / "records.sqlite", row.sql);
    const std::string found = store.check_chain(id);
    CAPTURE(found);
    CHECK(found.find(row.found) != std::string::npos);
    CHECK(found.find(id) != std::string::npos);
  }
}

TEST_CASE("a batch that was rewritten with a fitting hash breaks the link after it") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  const std::string id = write_whole_record(store);
  std::string link = store.chain(id).at(2);
  link.replace(link.find("\"value\":0.3"), 11, "\"value\":0.2");
  meddle(folder / "records.sqlite", "UPDATE batch SET canonical = '" + link + "', sha256 = '" + sha256_hex(link) +
                                        "' WHERE seq = 3; UPDATE indication SET value = 0.2; "
                                        "UPDATE reading SET value = 0.2 WHERE n = 0");
  CHECK_FALSE(store.check_chain(id).empty());
}

TEST_CASE("a record is named by the beginning of its id and a wrong id gets near names") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  const std::string first = store.begin(header());
  RecordHeader later = header();
  later.started += 24h;
  const std::string second = store.begin(later);
  CHECK(store.load("20260302").header.id == second);
  CHECK(store.load(first).header.id == first);
  const Error two = error_of([&] { store.load("202603"); });
  CHECK(two.kind() == ErrorKind::usage);
  CHECK(two.what_happened() == "2 records begin with \"202603\"");
  std::string typo = first;
  std::swap(typo[2], typo[3]);
  const Error near = error_of([&] { store.load(typo); });
  CHECK(near.kind() == ErrorKind::usage);
  CHECK(near.what_next() == "did you mean \"" + first + "\"?");
  CHECK(error_of([&] { store.load(""); }).kind() == ErrorKind::usage);
}

TEST_CASE("records without a verdict are unfinished and the newest comes first") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  CHECK(store.list().empty());
  const std::string whole = write_whole_record(store);
  RecordHeader later = header();
  later.started += 1h;
  later.simulated = true;
  const std::string begun = store.begin(later);
  const auto all = store.list();
  REQUIRE(all.size() == 2);
  CHECK(all[0].id == begun);
  CHECK(all[0].outcome == "unfinished");
  CHECK(all[0].simulated);
  CHECK(all[1].id == whole);
  CHECK(all[1].outcome == "fail");
  CHECK(all[1].meter_id == "scpi");
  CHECK(all[1].operator_name == "Operator One");
  const auto open = store.unfinished();
  REQUIRE(open.size() == 1);
  CHECK(open[0].id == begun);
}

TEST_CASE("a record that is resumed after a restart goes on after what it holds") {
  const Folder folder;
  std::string id;
  {
    Store store(folder / "records.sqlite");
    id = store.begin(header());
    store.append(id, step_batch(1, 4.0, 0.3));
  }
  // The machine was started anew: its monotonic clock began again, the wall clock shows ten minutes later.
  const auto rebooted = [](double seconds) {
    return Instant{Monotonic{5s} + std::chrono::duration_cast<Monotonic::duration>(from_seconds(seconds)),
                   start + 600s + std::chrono::duration_cast<Wall::duration>(from_seconds(seconds))};
  };
  Store store(folder / "records.sqlite");
  Batch batch = step_batch(2, 0.0, 0.4);
  for (auto& row : batch.readings) row.reading.at = rebooted(0.5);
  batch.indications[0].indication.from = rebooted(0.0);
  batch.indications[0].indication.to = rebooted(0.5);
  batch.verdict = verdict();  // findings may come from the sitting before
  store.append(id, batch);
  const Record record = store.load(id, true);
  REQUIRE(record.readings.size() == 6);
  CHECK(seconds_between(Monotonic{}, record.readings[3].reading.at.monotonic) == doctest::Approx(600.5));
  CHECK(seconds_between(Monotonic{}, record.verdict->findings[0].indication.from.monotonic) == doctest::Approx(7.0));
  CHECK(store.check_chain(id).empty());
}

TEST_CASE("text that is not UTF-8 and text with quotes is kept readable and the chain stays whole") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  RecordHeader odd = header();
  odd.operator_name = "O'Neill \"x\" \xFF <b>";
  odd.part = std::string("nul\0inside", 10);
  const std::string id = store.begin(odd);
  const Record record = store.load(id);
  CHECK(record.header.operator_name == "O'Neill \"x\" \xEF\xBF\xBD <b>");
  CHECK(record.header.part == odd.part);
  CHECK(store.check_chain(id).empty());
}

TEST_CASE("files that are no record store are refused and left alone") {
  const Folder folder;
  const auto text = folder / "notes.txt";
  std::ofstream(text) << "this is a shopping list that is long enough to be looked at as a database header, "
                         "one hundred bytes or more of it";
  const Error not_a_database = error_of([&] { Store store(text); });
  CHECK(not_a_database.kind() == ErrorKind::store);
  CHECK(not_a_database.what_happened() == "this file is not a record store");

  const auto other = folder / "other.sqlite";
  meddle(other, "CREATE TABLE cats (name TEXT)");
  const auto size = std::filesystem::file_size(other);
  CHECK(error_of([&] { Store store(other); }).what_happened() ==
        "this file belongs to another program and is not a record store");
  CHECK(std::filesystem::file_size(other) == size);

  CHECK(error_of([&] { Store store(folder / "no/such/records.sqlite"); }).what_next().find("mkdir -p") !=
        std::string::npos);
  CHECK(error_of([&] { Store store(folder.path()); }).what_happened() == "this is a folder, not a record store");
}

TEST_CASE("a store of a newer schema is refused with both versions named") {
  const Folder folder;
  { Store store(folder / "records.sqlite"); }
  meddle(folder / "records.sqlite", "PRAGMA user_version=99");
  const Error newer = error_of([&] { Store store(folder / "records.sqlite"); });
  CHECK(newer.kind() == ErrorKind::store);
  CHECK(newer.what_happened() == "the record store has schema 99, this switchwright knows up to 12");
}

TEST_CASE("records are visited newest first, of one serial number too, and only as many as are wanted") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  std::vector<std::string> begun;
  for (int i = 0; i < 6; ++i) {
    RecordHeader one = header();
    one.serial = i % 2 == 0 ? "even" : "odd";
    one.started += std::chrono::milliseconds(i < 3 ? 700 * i : 90000 * i);  // some within one second
    begun.push_back(store.begin(one));
  }
  const auto visited = [&](const std::string& serial, std::size_t most) {
    std::vector<std::string> ids;
    const auto visit = [&](const RecordSummary& record) {
      ids.push_back(record.id);
      return ids.size() < most;
    };
    serial.empty() ? store.walk(visit) : store.walk_serial(serial, visit);
    return ids;
  };
  const std::vector<std::string> newest_first(begun.rbegin(), begun.rend());
  CHECK(visited("", 99) == newest_first);
  CHECK(visited("", 2) == std::vector<std::string>{begun[5], begun[4]});
  CHECK(visited("even", 99) == std::vector<std::string>{begun[4], begun[2], begun[0]});
  CHECK(visited("EVEN", 99).empty());
  CHECK(store.count() == 6);
}

TEST_CASE("what explains the readings is kept whole and an edited explanation is found out") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  const std::string id = store.begin(header());
  Batch batch;
  batch.verdict = verdict();
  DiagnosisSummary diagnosis;
  diagnosis.sentence = "Most probable: the cycling contact stays closed.";
  diagnosis.explanations = {{"stuck-closed:cycling",
                             "contact cycling stays closed",
                             0.98,
                             {"bridged:L2,H2", "stuck-closed:a + swapped:b,c"},
                             {"stuck-open:cycling"},
                             {{"stuck-closed:cycling", "Full heat.", "Replace it.", Severity::critical}}},
                            {"none", "the part is good", 0.02, {}, {}, {}}};
  diagnosis.next = Place{"off", Pair{"L2", "H2"}};
  diagnosis.next_bits = 0.25;
  batch.verdict->diagnosis = diagnosis;
  batch.verdict->plan = "short";
  batch.verdict->left_out = batch.verdict->not_measured;
  store.append(id, batch);

  const Verdict kept = *store.load(id).verdict;
  REQUIRE(kept.diagnosis);
  CHECK(kept.plan == "short");
  CHECK(kept.left_out.size() == batch.verdict->left_out.size());
  CHECK(kept.diagnosis->sentence == diagnosis.sentence);
  REQUIRE(kept.diagnosis->explanations.size() == 2);
  const ExplainedFault& first = kept.diagnosis->explanations.front();
  CHECK(first.fault == "stuck-closed:cycling");
  CHECK(first.probability == 0.98);
  CHECK(first.same_readings_as == diagnosis.explanations.front().same_readings_as);
  CHECK(first.hides == diagnosis.explanations.front().hides);
  REQUIRE(first.consequences.size() == 1);
  CHECK(first.consequences.front().next == "Replace it.");
  CHECK(kept.diagnosis->next->pair == Pair{"L2", "H2"});
  CHECK(kept.diagnosis->next_bits == 0.25);
  CHECK(store.check_chain(id).empty());
  meddle(folder / "records.sqlite", "UPDATE explanation SET probability = 0.5 WHERE n = 0");
  CHECK(store.check_chain(id).find("explanation") != std::string::npos);
}

TEST_CASE("a damaged store says so and what to do") {
  const Folder folder;
  std::string id;
  {
    Store store(folder / "records.sqlite");
    id = write_whole_record(store);
  }
  meddle(folder / "records.sqlite", "PRAGMA journal_mode=DELETE");
  {
    std::fstream file(folder / "records.sqlite", std::ios::in | std::ios::out | std::ios::binary);
    file.seekp(4096);
    const std::string garbage(std::filesystem::file_size(folder / "records.sqlite") - 4096, '\x5a');
    file << garbage;
  }
  const Error damaged = error_of([&] {
    Store store(folder / "records.sqlite");
    store.load(id, true);
  });
  CHECK(damaged.kind() == ErrorKind::store);
  CHECK(damaged.what_next().find(".recover") != std::string::npos);
}

TEST_CASE("the default store follows the XDG base directories and is private to the user") {
  const Folder folder;
  const auto set = [](const char* name, const std::string& value) { ::setenv(name, value.c_str(), 1); };
  const std::string home = std::getenv("HOME") == nullptr ? "" : std::getenv("HOME");
  ::unsetenv("SWITCHWRIGHT_STORE");
  set("XDG_DATA_HOME", (folder / "data").string());
  CHECK(default_store_path() == folder / "data/switchwright/records.sqlite");
  CHECK(std::filesystem::is_directory(folder / "data/switchwright"));
  set("XDG_DATA_HOME", "relative/is/ignored");
  set("HOME", (folder / "home").string());
  CHECK(default_store_path() == folder / "home/.local/share/switchwright/records.sqlite");
  set("SWITCHWRIGHT_STORE", "/elsewhere/r.sqlite");
  CHECK(default_store_path() == "/elsewhere/r.sqlite");
  ::unsetenv("SWITCHWRIGHT_STORE");
  ::unsetenv("XDG_DATA_HOME");
  set("HOME", home);
}

TEST_CASE("the newest record is the one that began last, also among those of one second") {
  const example::Folder folder;
  Store store(folder / "records.sqlite");
  CHECK(store.newest().empty());
  std::string expected;
  // Milliseconds after the full second, in no order; the id alone does not tell them apart.
  for (const int ms : {300, 900, 100, 500, 700, 200}) {
    RecordHeader header = example::header();
    header.started = parse_iso8601("2026-03-01T09:15:02.000Z") + std::chrono::milliseconds(ms);
    const std::string id = store.begin(header);
    if (ms == 900) expected = id;
  }
  CHECK(store.newest() == expected);
  RecordHeader earlier = example::header();
  earlier.started = parse_iso8601("2026-02-28T23:59:59.000Z");
  store.begin(earlier);
  CHECK(store.newest() == expected);
}
