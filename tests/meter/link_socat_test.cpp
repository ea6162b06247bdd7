// The link against an independent program: a pair of pseudo-terminals joined by socat (Debian package socat).
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>

#include "link_fixture.hpp"

using namespace switchwright;
using namespace switchwright::link_test;

extern char** environ;

namespace {

/// A program that runs for as long as this stands.
class Running {
 public:
  explicit Running(std::vector<std::string> words) {
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    if (::posix_spawnp(&pid_, argv[0], nullptr, nullptr, argv.data(), environ) != 0) pid_ = -1;
  }
  ~Running() { end(); }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;
  void end() {
    if (pid_ <= 0) return;
    ::kill(pid_, SIGTERM);
    ::waitpid(pid_, nullptr, 0);
    pid_ = -1;
  }

 private:
  pid_t pid_ = -1;
};

bool have(const char* program) {
  return std::filesystem::exists(std::string("/usr/bin/") + program) ||
         std::filesystem::exists(std::string("/usr/sbin/") + program);
}

}  // namespace

TEST_CASE("a meter on a socat pair is heard and lost and heard again") {
  if (!have("socat")) {
    MESSAGE("SKIPPED socat");
    return;
  }
  const auto base = std::filesystem::temp_directory_path() / ("socat-" + std::to_string(::getpid()));
  const std::string tool = base.string() + "-tool";
  const std::string meter = base.string() + "-meter";
  const std::vector<std::string> command{"socat", "PTY,raw,echo=0,link=" + tool,
                                         "PTY,raw,echo=0,link=" + meter};
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
