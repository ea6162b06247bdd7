// The link against an independent program: a pair of pseudo-terminals joined by socat (Debian package socat).
#include "link_fixture.hpp"
#include "running.hpp"
#include "skip.hpp"

using namespace switchwright;
using namespace switchwright::link_test;

TEST_CASE("a meter on a socat pair is heard and lost and heard again") {
  if (test::is_missing("socat", "socat")) return;
  const auto base = std::filesystem::temp_directory_path() / ("socat-" + std::to_string(::getpid()));
  const std::string tool = base.string() + "-tool";
  const std::string meter = base.string() + "-meter";
  const std::vector<std::string> command{"socat", "PTY,raw,echo=0,link=" + tool, "PTY,raw,echo=0,link=" + meter};
  Bench bench;
  auto socat = std::make_unique<Running>(command);
  const auto there = [&] { return std::filesystem::exists(tool) && std::filesystem::exists(meter); };
  REQUIRE(bench.until(there));
  bench.open(streaming_meter(), tool);
  REQUIRE(bench.until_state(LinkState::open));
  Descriptor end{::open(meter.c_str(), O_RDWR | O_NOCTTY)};
  write_all(end.get(), "42\n");
  REQUIRE(bench.until([&] { return bench.readings.size() == 1; }));
  end.close();
  socat->end();
  REQUIRE(bench.until_state(LinkState::lost));
  socat = std::make_unique<Running>(command);
  REQUIRE(bench.until([&] { return there() && bench.changes.back().state == LinkState::open; }));
  end = Descriptor{::open(meter.c_str(), O_RDWR | O_NOCTTY)};
  write_all(end.get(), "43\n");
  REQUIRE(bench.until([&] { return bench.readings.size() == 2; }));
  CHECK(bench.values() == std::vector<double>{42, 43});
  bench.meter->stop();
}
