#include "switchwright/hands/hands.hpp"

#include <doctest/doctest.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <chrono>
#include <cstring>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

bool turn_until(Loop& loop, const std::function<bool()>& happened) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds{5};
  while (!happened()) {
    if (std::chrono::steady_clock::now() > end) return false;
    const auto pause = loop.after(std::chrono::microseconds{500}, [&loop] { loop.stop(); });
    loop.run();
  }
  return true;
}

/// A bench of which the test writes the answers itself.
struct FakeBench {
  FakeBench() {
    char pattern[] = "/tmp/switchwright-test-XXXXXX";
    directory = ::mkdtemp(pattern);
    path = directory + "/hands";
    listener = ::socket(AF_UNIX, SOCK_STREAM, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::strncpy(address.sun_path, path.c_str(), sizeof address.sun_path - 1);
    REQUIRE(::bind(listener, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
    REQUIRE(::listen(listener, 1) == 0);
  }
  ~FakeBench() {
    vanish();
    ::close(listener);
    ::unlink(path.c_str());
    ::rmdir(directory.c_str());
  }
  void accept() { client = ::accept(listener, nullptr, nullptr); }
  void vanish() {
    if (client >= 0) ::close(client);
    client = -1;
  }
  void say(const std::string& text) const {
    REQUIRE(::send(client, text.data(), text.size(), MSG_NOSIGNAL) == static_cast<ssize_t>(text.size()));
  }
  std::string heard() const {
    char buffer[4096];
    const ssize_t n = ::recv(client, buffer, sizeof buffer, MSG_DONTWAIT);
    return n > 0 ? std::string(buffer, static_cast<std::size_t>(n)) : std::string{};
  }

  std::string directory;
  std::string path;
  int listener = -1;
  int client = -1;
};

struct Outcome {
  int done = 0;
  std::vector<std::string> failed;
  void ask(Hands& hands, const Arrangement& arrangement = {}) {
    hands.arrange(
        arrangement, [this] { ++done; }, [this](std::string why) { failed.push_back(std::move(why)); });
  }
};

}  // namespace

TEST_CASE("A person's arrangement counts as asked at once but only from the loop") {
  Loop loop;
  auto hands = person_hands(loop);
  Outcome outcome;
  outcome.ask(*hands);
  outcome.ask(*hands);
  CHECK(outcome.done == 0);
  loop.run();
  CHECK(outcome.done == 2);
  CHECK(hands->name() == "person");
  CHECK_FALSE(hands->states_contact());
  CHECK_FALSE(hands->confirms_itself());
  outcome.ask(*hands);
  hands.reset();
  loop.run();
  CHECK(outcome.done == 2);
}

TEST_CASE("The simulator's hands send one JSON object per arrangement") {
  struct Row {
    Arrangement arrangement;
    const char* line;
  };
  const Row rows[] = {
      {{Probes::off, {}, "", Quantity::voltage_ac}, "{\"dial\":\"voltage-ac\",\"id\":1,\"probes\":\"off\"}\n"},
      {{Probes::shorted, {}, "", Quantity::resistance}, "{\"dial\":\"resistance\",\"id\":1,\"probes\":\"shorted\"}\n"},
      {{Probes::on_known_source, {}, "off", Quantity::voltage_dc},
       "{\"dial\":\"voltage-dc\",\"id\":1,\"position\":\"off\",\"probes\":\"known-source\"}\n"},
      {{Probes::on_pair, {"L1", "H1"}, "low", Quantity::resistance},
       "{\"dial\":\"resistance\",\"id\":1,\"pair\":[\"L1\",\"H1\"],\"position\":\"low\",\"probes\":\"pair\"}"
       "\n"},
  };
  for (const Row& row : rows) {
    FakeBench bench;
    Loop loop;
    const auto hands = simulator_hands(loop, bench.path);
    bench.accept();
    Outcome outcome;
    outcome.ask(*hands, row.arrangement);
    std::string heard;
    CHECK(turn_until(loop, [&] { return (heard += bench.heard()).find('\n') != std::string::npos; }));
    CHECK(heard == row.line);
  }
}

TEST_CASE("Answers reach the request whose number they carry") {
  FakeBench bench;
  Loop loop;
  const auto hands = simulator_hands(loop, bench.path);
  bench.accept();
  Outcome first;
  Outcome second;
  first.ask(*hands);
  second.ask(*hands);
  bench.say("{\"id\":9,\"done\":true}\n{\"id\":2,\"done\":true}\n{\"id\":1,\"done\":false,\"reason\":\"stuck\"}\n");
  CHECK(turn_until(loop, [&] { return !first.failed.empty(); }));
  CHECK(first.done == 0);
  CHECK(first.failed.front() == "stuck");
  CHECK(second.done == 1);
}

TEST_CASE("A bench that vanishes fails what is open and what follows with a sentence") {
  FakeBench bench;
  Loop loop;
  const auto hands = simulator_hands(loop, bench.path);
  bench.accept();
  Outcome outcome;
  outcome.ask(*hands);
  outcome.ask(*hands);
  bench.vanish();
  CHECK(turn_until(loop, [&] { return outcome.failed.size() == 2; }));
  outcome.ask(*hands);
  CHECK(turn_until(loop, [&] { return outcome.failed.size() == 3; }));
  for (const std::string& why : outcome.failed)
    CHECK(why == "the simulated bench is gone; start \"switchwright simulate\" again and give the socket it prints");
  CHECK(outcome.done == 0);
}

TEST_CASE("Nonsense from the bench fails the request instead of leaving it open") {
  for (const char* nonsense : {"hello\n", "{\"done\":1}\n", "[]\n", "{\"id\":1}\n"}) {
    CAPTURE(nonsense);
    FakeBench bench;
    Loop loop;
    const auto hands = simulator_hands(loop, bench.path);
    bench.accept();
    Outcome outcome;
    outcome.ask(*hands);
    bench.say(nonsense);
    CHECK(turn_until(loop, [&] { return outcome.failed.size() == 1; }));
  }
}

TEST_CASE("Hands put away inside their own callback call nobody again") {
  FakeBench bench;
  Loop loop;
  auto hands = simulator_hands(loop, bench.path);
  bench.accept();
  int failures = 0;
  for (int i = 0; i < 2; ++i)
    hands->arrange(
        {}, [] {},
        [&](const std::string&) {
          ++failures;
          hands.reset();
        });
  bench.vanish();
  CHECK(turn_until(loop, [&] { return failures > 0; }));
  loop.run();
  CHECK(failures == 1);
}

TEST_CASE("A socket that cannot be reached is a meter error that says what to start") {
  Loop loop;
  for (const auto& path : {std::string{"/nonexistent/hands"}, std::string{}, std::string(300, 'x')}) {
    try {
      simulator_hands(loop, path);
      FAIL("accepted");
    } catch (const Error& error) {
      CHECK(error.kind() == ErrorKind::meter);
      CHECK(error.what_next().find("switchwright simulate") != std::string::npos);
    }
  }
}

}  // namespace switchwright
