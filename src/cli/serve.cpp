// The bench page: a server on the loop that the meters are on, until Ctrl-C.
#include <sys/stat.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/practice_bench.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/page/desk.hpp"
#include "switchwright/page/server.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/sim/simulator.hpp"

namespace switchwright::cli {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t shortest_token = 16;

/// The simulated bench of `serve --demo`, in this process and reached like any other: through its line and its socket.
class SimulatedBench final : public page::DemoBench {
 public:
  SimulatedBench(Loop& loop, const Clock& clock, const std::string& profile, const std::string& meter,
                 std::optional<double> rate_hz)
      : loop_(loop), clock_(clock), meter_(load_meter_definition(meter, meter_places())), rate_hz_(rate_hz) {
    exchange(profile);
  }

  const Profile& profile() const override { return profile_; }
  const MeterDefinition& meter() const override { return meter_; }
  std::string port() const override { return simulator_->port(); }
  std::string socket() const override { return simulator_->hands_socket(); }

  void exchange(const std::string& profile_id) override {
    Profile other = load_profile(profile_id, profile_places());
    SimulatorSettings settings;
    settings.rate_hz = rate_hz_;
    settings.power.time_constant_s = 4.0;  // nobody waits minutes to see how a regulator cycles
    auto simulator = std::make_unique<Simulator>(loop_, clock_, other, meter_, settings);
    hands_.reset();
    simulator_ = std::move(simulator);
    profile_ = std::move(other);
    hands_ = simulator_hands(loop_, simulator_->hands_socket());
  }
  void put_in(std::vector<Fault> faults) override { simulator_->put_in(std::move(faults)); }
  void arrange(const Arrangement& arrangement, std::function<void(std::string)> done) override {
    hands_->arrange(
        arrangement, [done] { done(""); }, done);
  }

 private:
  Loop& loop_;
  const Clock& clock_;
  MeterDefinition meter_;
  std::optional<double> rate_hz_;
  Profile profile_;
  std::unique_ptr<Simulator> simulator_;
  std::unique_ptr<Hands> hands_;
};

class OnePracticeBench final : public page::ExerciseBench {
 public:
  OnePracticeBench(const Profile& part, const MeterDefinition& meter, std::vector<Fault> faults, std::uint64_t seed)
      : bench_(part, meter, std::move(faults), seed) {}
  Indication take(const Arrangement& arrangement) override { return bench_.take(arrangement); }

 private:
  PracticeBench bench_;
};

/// What stands in the file; a file that is not there yet gets a fresh token, for this user's eyes only.
std::string token_from(const std::string& file) {
  if (!fs::exists(file)) {
    const mode_t before = ::umask(077);
    write_file_durably(file, page::fresh_token() + "\n");
    ::umask(before);
    say("a new token is written to " + file);
  }
  std::ifstream in{file};
  std::string token;
  std::getline(in, token);
  if (token.size() < shortest_token ||
      token.find_first_not_of("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_") != std::string::npos)
    throw Error(ErrorKind::usage,
                "the token in this file is too short to be one, or has signs that do not fit into an address", file,
                "delete the file and a good one is made, or write 16 letters and digits or more into it");
  return token;
}

page::ServerSettings server_settings(const ServeOptions& options) {
  page::ServerSettings settings;
  page::read_listen(options.listen, settings);
  if (!options.token_file.empty()) settings.token = token_from(options.token_file);
  settings.tls_cert = options.tls_cert;
  settings.tls_key = options.tls_key;
  settings.names = options.names;
  if (!page::is_loopback(settings.address) && settings.token.empty())
    throw Error(ErrorKind::usage, "others on the network can reach " + settings.address + ", so the page needs a token",
                "--listen", "add --token-file FILE (a fresh token is written there), or listen at 127.0.0.1");
  return settings;
}

fs::path practice_store() { return default_store_path().parent_path() / "practice.sqlite"; }

/// Whoever tries the demonstration keeps its records apart from real ones.
fs::path store_of(const ServeOptions& options) {
  if (!options.store.empty() || std::getenv("SWITCHWRIGHT_STORE") || !options.demo) return store_place(options.store);
  return default_store_path().parent_path() / "demo.sqlite";
}

}  // namespace

int run(const ServeOptions& options) {
  const page::ServerSettings wanted = server_settings(options);
  const EndsWithReader for_reader;
  Loop loop;
  const SystemClock clock;
  Choices choices;
  std::optional<SimulatedBench> demo;
  if (options.demo)
    demo.emplace(loop, clock, options.profile.empty() ? "regulator-shunt-240" : options.profile, options.meter,
                 options.rate_hz);

  page::DeskSettings desk_settings;
  desk_settings.profiles = profile_places();
  desk_settings.meters = meter_places();
  desk_settings.own_meters = own_meters_file();
  desk_settings.store = store_of(options);
  desk_settings.practice_store = practice_store();
  desk_settings.settle_s = options.settle_s;
  desk_settings.last = choices.last();
  desk_settings.last.erase("serial");
  desk_settings.remember = [&](const std::map<std::string, std::string>& last) {
    for (const auto& [key, value] : last) choices.set(key, value);
    choices.remember();
  };
  desk_settings.exercise_bench = [](const Profile& part, const MeterDefinition& meter, std::vector<Fault> faults,
                                    std::uint64_t seed) {
    return std::make_unique<OnePracticeBench>(part, meter, std::move(faults), seed);
  };
  {
    const Store store{desk_settings.store};
  }  // a store that cannot be opened is said now, not in the middle of the work
  page::Desk desk{loop, clock, desk_settings, demo ? &*demo : nullptr};
  const page::Server server{loop, wanted, desk.house()};

  put_line("The bench page is at " + server.url());
  flush_output();
  if (demo)
    say("a demonstration: the switch and the meter are simulated; records go to " + desk_settings.store.string());
  if (!page::is_loopback(wanted.address) && wanted.tls_cert.empty())
    say("without TLS everybody on this network can read along, the token too, and could act in your name. Give --tls-cert and --tls-key, "
        "or use a network that is yours alone.");
  say("end it with Ctrl-C; work that goes on is kept and can be resumed");
  const Interrupt interrupt{loop, [&] { desk.stop([&] { loop.stop(); }); }};
  loop.run();
  return 0;
}

}  // namespace switchwright::cli
