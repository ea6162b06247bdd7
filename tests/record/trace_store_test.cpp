// Traces in the store: every sample with the frame it came in, the meter of each channel, read as one stream.
#include <doctest/doctest.h>
#include <sqlite3.h>

#include <nlohmann/json.hpp>

#include "example.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/chain.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/store.hpp"

using namespace switchwright;
using namespace example;

namespace {

const std::string frame{"\x17\x2f\x00\x41", 4};

/// Three batches: the channels, then samples of two meters in turn.
std::string write_trace(Store& store) {
  RecordHeader traced = header();
  traced.kind = RecordKind::trace;
  const std::string id = store.begin(traced);
  Batch batch;
  batch.trace = TraceSetup{"medium", "about half", 240.0, "2400W@240", 24.0, 23.0};
  batch.channels = {
      {1, "load", "voltage-ac", "lcd-segment-14", "", "text", "/dev/a", "10428", "2026-01-15, due 2027-01-15", "load"},
      {2, "line", "voltage-ac", "scpi", "", "", "/dev/b", "", "", ""}};
  store.append(id, batch);
  for (int second = 0; second < 3; ++second) {
    Batch more;
    for (int i = 0; i < 4; ++i) {
      const double t_s = second + 0.25 * i;
      more.samples.push_back(
          {1, t_s, i == 3 ? ReadingState::over_range : ReadingState::finite, i == 3 ? 0.0 : 239.4, 0.1, frame});
      more.samples.push_back({2, t_s + 0.01, ReadingState::finite, 240.1 + i, 0.01, "+240.1\n"});
    }
    store.append(id, more);
  }
  return id;
}

std::vector<SampleRow> samples_of(const Record& record) {
  std::vector<SampleRow> all;
  record.each_sample([&](const SampleRow& sample) { all.push_back(sample); });
  return all;
}

void meddle(const std::filesystem::path& path, const char* sql) {
  sqlite3* handle = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
  CHECK(sqlite3_exec(handle, sql, nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(handle);
}

}  // namespace

TEST_CASE("samples come back in their order with their frames even when the store is gone") {
  const Folder folder;
  Record record;
  {
    Store store(folder / "records.sqlite");
    const std::string id = write_trace(store);
    record = store.load(id, true);
    Batch late;
    late.samples.push_back({1, 99.0, ReadingState::finite, 1.0, 0.1, frame});
    store.append(id, late);
  }
  CHECK(record.samples.empty());
  const auto all = samples_of(record);
  REQUIRE(all.size() == 24);  // what came after loading is not in it
  for (std::size_t i = 1; i < all.size(); ++i) CHECK(all[i].t_s > all[i - 1].t_s);
  CHECK(all[0].raw == frame);
  CHECK(all[1].raw == "+240.1\n");
  CHECK(all[6].state == ReadingState::over_range);
  CHECK(all[7].value == doctest::Approx(243.1));
  CHECK(samples_of(record).size() == 24);  // and again
}

TEST_CASE("each channel keeps its own meter with serial number and calibration") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  const Record record = store.load(write_trace(store));
  REQUIRE(record.channels.size() == 2);
  CHECK(record.channels[0].meter_serial == "10428");
  CHECK(record.channels[0].meter_calibrated == "2026-01-15, due 2027-01-15");
  CHECK(record.channels[1].meter_serial.empty());
  CHECK(samples_of(record).empty());  // not asked for
}

TEST_CASE("a changed frame or serial number breaks the chain where it was changed") {
  //               what somebody changes                                     what is named
  for (const auto& row : {std::pair{"UPDATE sample SET raw = x'00' WHERE seq = 3 AND n = 2", "sample, row 3"},
                          std::pair{"UPDATE trace_channel SET meter_serial = '1'", "trace_channel, row"},
                          std::pair{"DELETE FROM sample WHERE seq = 4", "sample: rows are missing"}}) {
    const auto& [sql, named] = row;
    const char* const change = sql;  // clang 14 captures no name of a binding
    CAPTURE(change);
    const Folder folder;
    Store store(folder / "records.sqlite");
    const std::string id = write_trace(store);
    CHECK(store.check_chain(id).empty());
    meddle(folder / "records.sqlite", sql);
    CHECK(store.check_chain(id).find(named) != std::string::npos);
  }
}

TEST_CASE("the chain alone gives the same samples as the store") {
  const Folder folder;
  Store store(folder / "records.sqlite");
  const std::string id = write_trace(store);
  const auto stored = samples_of(store.load(id, true)), rebuilt = samples_of(record_from_chain(store.chain(id)));
  REQUIRE(stored.size() == rebuilt.size());
  for (std::size_t i = 0; i < stored.size(); ++i) {
    CHECK(stored[i].raw == rebuilt[i].raw);
    CHECK(stored[i].value == rebuilt[i].value);
    CHECK(stored[i].t_s == rebuilt[i].t_s);
    CHECK(stored[i].state == rebuilt[i].state);
  }
}
