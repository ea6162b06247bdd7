// Recorded series as files: every spelling that real exports use. Files are invented.
#include "switchwright/cycle/series_file.hpp"

#include <doctest/doctest.h>

#include <cstdio>
#include <filesystem>
#include <fstream>

#include "switchwright/core/error.hpp"
#include "switchwright/cycle/analyze_file.hpp"

using namespace switchwright;

namespace {

/// A file that goes away with the test.
class TemporaryFile {
 public:
  explicit TemporaryFile(const std::string& content) {
    static int number = 0;
    path_ = std::filesystem::temp_directory_path() /
            ("switchwright_series_" + std::to_string(::getpid()) + "_" + std::to_string(number++) + ".csv");
    std::ofstream(path_, std::ios::binary) << content;
  }
  ~TemporaryFile() { std::filesystem::remove(path_); }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

struct Taken final : SampleSink {
  std::vector<std::vector<Sample>> channels;
  void take(std::size_t channel, std::span<const Sample> samples) override {
    channels.resize(std::max(channels.size(), channel + 1));
    channels[channel].insert(channels[channel].end(), samples.begin(), samples.end());
  }
  /// "0.25=230 0.5=OL" for one channel.
  std::string text(std::size_t channel) const {
    std::string text;
    if (channel >= channels.size()) return text;
    for (const Sample& s : channels[channel]) {
      char one[64];
      std::snprintf(one, sizeof one, "%s%.10g=", text.empty() ? "" : " ", s.t_s);
      text += one;
      if (s.kind == SampleKind::over_range) text += "OL";
      if (s.kind == SampleKind::under_range) text += "-OL";
      if (s.kind != SampleKind::finite) continue;
      std::snprintf(one, sizeof one, "%.10g", s.value);
      text += one;
    }
    return text;
  }
};

std::string error_of(const std::string& content) {
  const TemporaryFile file(content);
  try {
    analyze_file(file.path());
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::usage);
    return error.what_happened();
  }
  return "no error";
}

}  // namespace

TEST_CASE("every spelling of a recorded series is read") {
  struct Row {
    const char* name;
    std::string content;
    const char* channels;
    const char* first;
    const char* second;
    std::uint64_t bad_rows = 0;
  };
  const Row rows[] = {
      {"plain", "t,load\n0,1.5\n1,2.5\n", "load", "0=1.5 1=2.5", ""},
      {"no line end after the last row", "t,load\n0,1.5\n1,2.5", "load", "0=1.5 1=2.5", ""},
      {"carriage returns", "t,load\r\n0,1.5\r\n1,2.5\r\n", "load", "0=1.5 1=2.5", ""},
      {"byte order mark", "\xEF\xBB\xBFt,load\n0,1.5\n1,2.5\n", "load", "0=1.5 1=2.5", ""},
      {"semicolons and decimal commas", "Zeit;Last\n0,25;230,1\n0,5;0,3\n", "Last", "0.25=230.1 0.5=0.3", ""},
      {"decimal commas that only later rows show", "Zeit;Last\n0;230\n1;0,3\n", "Last", "0=230 1=0.3", ""},
      {"semicolons and decimal points", "t;a;b\n0;1.5;2\n1;2.5;3\n", "a|b", "0=1.5 1=2.5", "0=2 1=3"},
      {"tabs", "t\ta\tb\n0\t1\t2\n1\t3\t4\n", "a|b", "0=1 1=3", "0=2 1=4"},
      {"blanks and no header", "1352500095 231\n1352500101 232\n", "column 2", "1352500095=231 1352500101=232", ""},
      {"quoted cells", "\"t\",\"load, W\"\n\"0\",\"1.5\"\n\"1\",\"2.5\"\n", "load, W", "0=1.5 1=2.5", ""},
      {"blanks after the comma", "t, load, aux\n0, 1.5, 3\n1, 2.5, 4\n", "load|aux", "0=1.5 1=2.5", "0=3 1=4"},
      {"an empty cell is no sample", "t,a,b\n0,1,\n1,,5\n2,3,6\n", "a|b", "0=1 2=3", "1=5 2=6"},
      {"words for no sample", "t,a\n0,1\n1,nan\n2,unavailable\n3,NULL\n4,2\n", "a", "0=1 4=2", ""},
      {"over-range", "t,a\n0,1\n1,OL\n2,inf\n3,-OL\n4,2\n", "a", "0=1 1=OL 2=OL 3=-OL 4=2", ""},
      {"states in words", "t,a\n0,off\n1,on\n", "a", "0=0 1=1", ""},
      {"lines before the header", "Recorder 7\nwritten by hand\nt,a\n0,1\n1,2\n", "a", "0=1 1=2", ""},
      {"remarks", "# invented\nt,a\n0,1\n# pause\n1,2\n", "a", "0=1 1=2", ""},
      {"a comma at the end of every row", "t,a,\n0,1,\n1,2,\n", "a", "0=1 1=2", ""},
      {"exponents and signs", "t,a\n0,+1e3\n1,-2.5E-1\n", "a", "0=1000 1=-0.25", ""},
      {"ISO 8601 in UTC", "time,a\n2026-03-01T23:59:59.5Z,1\n2026-03-02T00:00:00.25Z,2\n", "a", "0=1 0.75=2", ""},
      {"ISO 8601 with offsets", "time,a\n2026-03-01T10:00:00+01:00,1\n2026-03-01T09:00:10Z,2\n", "a", "0=1 10=2", ""},
      {"ISO 8601 with a blank", "time;a\n2026-03-01 10:00:00;1,5\n2026-03-01 10:00:06;2,5\n", "a", "0=1.5 6=2.5", ""},
      {"dotted dates", "Zeit;a\n01.03.2026 10:00:00;1,5\n01.03.2026 10:00:06;2,5\n", "a", "0=1.5 6=2.5", ""},
      {"milliseconds since 1970", "time,a\n1700000000000,1\n1700000000250,2\n", "a", "1700000000=1 1700000000=2", ""},
      {"bad rows are skipped and counted", "t,a\n0,1\nx,2\n2,y\n3,4,5\n4\n5,6\n", "a", "0=1 5=6", "", 4},
      {"equal names are told apart", "t,a,a\n0,1,2\n1,3,4\n", "a|a (column 3)", "0=1 1=3", "0=2 1=4"},
  };
  for (const Row& row : rows)
    for (const std::size_t block : {64u, 1u << 18}) {
      CAPTURE(row.name);
      CAPTURE(block);
      const TemporaryFile on_disk(row.content);
      SeriesFile file(on_disk.path(), block);
      Taken taken;
      file.read(taken);
      std::string channels;
      for (const std::string& name : file.layout().channels) channels += (channels.empty() ? "" : "|") + name;
      CHECK(channels == row.channels);
      CHECK(taken.text(0) == row.first);
      CHECK(taken.text(1) == row.second);
      CHECK(file.bad_rows() == row.bad_rows);
    }
}

TEST_CASE("bad rows are named by line and reason") {
  const TemporaryFile on_disk("t,load\n0,1\n1,2\noops,2\n3,4,5\n4,12x\n5,6\n");
  SeriesFile file(on_disk.path());
  Taken taken;
  file.read(taken);
  REQUIRE(file.first_bad_rows().size() == 3);
  CHECK(file.first_bad_rows()[0].line == 4);
  CHECK(file.first_bad_rows()[0].reason == "\"oops\" is no time");
  CHECK(file.first_bad_rows()[1].line == 5);
  CHECK(file.first_bad_rows()[1].reason == "3 cells where 2 are expected");
  CHECK(file.first_bad_rows()[2].line == 6);
  CHECK(file.first_bad_rows()[2].reason == "\"12x\" is no number in channel \"load\"");
}

TEST_CASE("a file that cannot be analysed is refused with its reason") {
  CHECK(error_of("") == "the file is empty");
  CHECK(error_of("\n\n") == "the file is empty");
  CHECK(error_of("t,load\n") == "the file has a header line and no rows");
  CHECK(error_of("load\n1\n2\n") == "the file has one column");
  CHECK(error_of("hello\nworld\n") == "no row holds a time and a number; line 2 is \"world\"");
  CHECK(error_of(std::string("\xFF\xFEt\0", 4)) == "the file is UTF-16");
  CHECK(error_of("\x1F\x8B\x08") == "the file is compressed or a workbook");
  CHECK_THROWS_AS(SeriesFile{"/nonexistent/series.csv"}, Error);
  CHECK_THROWS_AS(SeriesFile{std::filesystem::temp_directory_path()}, Error);
}

TEST_CASE("a line without end neither fills the memory nor hides the rows after it") {
  const TemporaryFile on_disk("t,a\n0,1\n" + std::string(3'000'000, 'x') + "\n1,2\n");
  SeriesFile file(on_disk.path());
  Taken taken;
  file.read(taken);
  CHECK(taken.text(0) == "0=1 1=2");
  REQUIRE(file.first_bad_rows().size() == 1);
  CHECK(file.first_bad_rows()[0].line == 3);
}

TEST_CASE("the resolution of a channel follows from its decimals") {
  const TemporaryFile on_disk("t,a,b,c\n0,230.1,0,1\n1,0.25,1,1e-3\n2,3,2,1\n");
  SeriesFile file(on_disk.path());
  Taken taken;
  file.read(taken);
  CHECK(file.resolution(0) == doctest::Approx(0.01));
  CHECK(file.resolution(1) == 1.0);
  CHECK(file.resolution(2) == 0.0);
}

TEST_CASE("random bytes after a header are bad rows and never an end") {
  std::string noise = "t,a\n0,1\n";
  unsigned state = 7;
  for (int i = 0; i < 20000; ++i) noise += static_cast<char>((state = state * 1664525u + 1013904223u) >> 24);
  const TemporaryFile on_disk(noise);
  for (const std::size_t block : {64u, 4096u}) {
    SeriesFile file(on_disk.path(), block);
    Taken taken;
    file.read(taken);
    CHECK(file.bad_rows() > 10);
  }
}

TEST_CASE("the dead limit follows from a unit and never from a word that may mean another") {
  CHECK(*dead_below_for("load (V)") == 2.0);
  CHECK(*dead_below_for("power_kW") == 0.005);
  CHECK(*dead_below_for("heater current [mA]") == 20.0);
  CHECK_FALSE(dead_below_for("Global_active_power"));
  CHECK_FALSE(dead_below_for("load"));
}

TEST_CASE("a file gives the cycles of each of its channels") {
  std::string content = "time_s,load (V),line (V),fan\n";
  for (int i = 0; i < 1000; ++i) {
    const double t_s = i * 0.25;
    const bool on = i % 80 >= 40;  // 10 s off, 10 s on
    content += std::to_string(t_s) + (on ? ",229.8," : ",0.4,") + (i % 7 < 3 ? "231.0," : "231.2,") +
               (i % 2 == 0 ? ""
                : on       ? "0.0"
                           : "12.0") +
               "\n";
  }
  const TemporaryFile on_disk(content);
  const FileResult result = analyze_file(on_disk.path());
  REQUIRE(result.channels.size() == 3);
  CHECK(result.bad_rows == 0);
  CHECK(result.channels[0].summary.complete_cycles == 11);
  CHECK(*result.channels[0].summary.all.duty.mean == doctest::Approx(0.5));
  CHECK(to_string(result.channels[1].summary.state) == "always-on");
  CHECK(result.channels[2].summary.samples == 500);
  CHECK(result.channels[2].summary.complete_cycles == 11);
}
