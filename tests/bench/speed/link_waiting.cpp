// What share of one core the links take while they wait: for meters that were unplugged, for servers that are
// gone, and for meters that are there but say nothing. And what one look at a machine with 64 adapters costs,
// since that is what waiting for a USB adapter adds. Not a test: it prints figures. Build with `cmake --build
// build/release --target link_waiting`, run as link_waiting [SECONDS EACH].
#include <arpa/inet.h>
#include <fmt/format.h>
#include <pty.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string>
#include <vector>

#include "meter/link/link_meter.hpp"
#include "meter/link/ports_watch.hpp"

using namespace switchwright;
namespace fs = std::filesystem;

namespace {

class NothingDecoded final : public Decoder {
 public:
  void feed(std::string_view, Instant, std::vector<Reading>&) override {}
  void reset() override {}
};

struct Cable {
  int master = -1;
  int slave = -1;
  std::string path;

  Cable() {
    char name[128];
    if (openpty(&master, &slave, name, nullptr, nullptr) != 0) throw std::runtime_error("openpty");
    termios raw{};
    tcgetattr(slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(slave, TCSANOW, &raw);
    path = name;
  }
  void unplug() const { close(slave), close(master); }
};

/// A server that accepts `clients` connections and is gone.
struct Server {
  int listener = -1;
  std::string port;

  Server() {
    listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in at{};
    at.sin_family = AF_INET;
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof at;
    if (bind(listener, reinterpret_cast<sockaddr*>(&at), size) != 0 || listen(listener, 128) != 0 ||
        getsockname(listener, reinterpret_cast<sockaddr*>(&at), &size) != 0)
      throw std::runtime_error("listen");
    port = "tcp:127.0.0.1:" + std::to_string(ntohs(at.sin_port));
  }
  void vanish(std::size_t clients) const {
    for (std::size_t i = 0; i < clients; ++i) close(accept(listener, nullptr, nullptr));
    close(listener);
  }
};

double cpu_s() {
  rusage use{};
  getrusage(RUSAGE_SELF, &use);
  const auto s = [](const timeval& t) { return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_usec) * 1e-6; };
  return s(use.ru_utime) + s(use.ru_stime);
}

enum class Wait { unplugged, server_gone, silent };

void measure(std::size_t meters, Wait wait, double seconds) {
  std::vector<Cable> cables(wait == Wait::server_gone ? 0 : meters);
  const Server server;
  Loop loop;
  const SystemClock clock;
  std::vector<std::unique_ptr<Meter>> open;
  MeterDefinition definition;
  definition.id = "waiting";
  for (std::size_t i = 0; i < meters; ++i)
    open.push_back(open_link_meter(loop, clock, definition, cables.empty() ? server.port : cables[i].path,
                                   std::make_unique<NothingDecoded>(), {}));
  if (wait == Wait::unplugged)
    for (const Cable& cable : cables) cable.unplug();
  if (wait == Wait::server_gone) server.vanish(meters);
  double cpu_before = 0.0;
  auto before = std::chrono::steady_clock::now();
  // The first second, in which the loss is noticed, is not waiting.
  const auto begin = loop.after(std::chrono::seconds{1}, [&] {
    cpu_before = cpu_s();
    before = std::chrono::steady_clock::now();
  });
  const auto end =
      loop.after(std::chrono::nanoseconds{static_cast<std::int64_t>((seconds + 1.0) * 1e9)}, [&] { loop.stop(); });
  loop.run();
  const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - before;
  fmt::print("{:3} meter{} {:24} CPU {:6.3f} % of one core\n", meters, meters == 1 ? " " : "s",
             wait == Wait::unplugged     ? "unplugged"
             : wait == Wait::server_gone ? "behind a server gone"
                                         : "there but silent",
             100.0 * (cpu_s() - cpu_before) / wall.count());
  open.clear();
  if (wait == Wait::silent)
    for (const Cable& cable : cables) cable.unplug();
}

/// A cable that is put back after `lost_s` without it: how long until its port is open again.
double found_again_s(double lost_s) {
  const fs::path alias = fs::temp_directory_path() / ("link-waiting-port-" + std::to_string(getpid()));
  const Cable before;
  fs::create_symlink(before.path, alias);
  Loop loop;
  const SystemClock clock;
  MeterDefinition definition;
  definition.id = "waiting";
  std::chrono::steady_clock::time_point back{};
  std::chrono::steady_clock::time_point found{};
  MeterCallbacks callbacks;
  callbacks.link = [&](const LinkChange& change) {
    if (change.state != LinkState::open || back == decltype(back){}) return;
    found = std::chrono::steady_clock::now();
    loop.stop();
  };
  const auto meter = open_link_meter(loop, clock, definition, alias, std::make_unique<NothingDecoded>(), callbacks);
  fs::remove(alias);
  before.unplug();
  std::optional<Cable> after;
  const auto plug = loop.after(std::chrono::nanoseconds{static_cast<std::int64_t>(lost_s * 1e9)}, [&] {
    after.emplace();
    fs::create_symlink(after->path, alias);
    back = std::chrono::steady_clock::now();
  });
  loop.run();
  fs::remove(alias);
  after->unplug();
  return std::chrono::duration<double>(found - back).count();
}

/// sysfs and /dev of a machine with so many adapters, made up.
void make_machine(const fs::path& root, int adapters) {
  const auto file = [&](const fs::path& name, const std::string& text) {
    fs::create_directories((root / name).parent_path());
    std::ofstream(root / name) << text << "\n";
  };
  const auto link = [&](const fs::path& name, const fs::path& target) {
    fs::create_directories((root / name).parent_path());
    fs::create_symlink(target, root / name);
  };
  for (int i = 0; i < adapters; ++i) {
    const std::string tty = "ttyUSB" + std::to_string(i);
    const std::string usb = "sys/devices/pci0/usb1/1-" + std::to_string(i);
    for (const auto& [name, text] : {std::pair{"idVendor", "0abc"}, {"idProduct", "1234"}, {"product", "Example"}})
      file(usb + "/" + name, text);
    file(usb + "/serial", std::to_string(i));
    fs::create_directories(root / usb / "port" / tty);
    link("sys/class/tty/" + tty + "/device", root / usb / "port" / tty);
    file("dev/" + tty, "");
    link("dev/serial/by-id/usb-Example_" + std::to_string(i), "../../" + tty);
    link("dev/serial/by-path/pci-0-usb-" + std::to_string(i), "../../" + tty);
  }
}

void measure_look() {
  const fs::path root = fs::temp_directory_path() / ("link-waiting-" + std::to_string(getpid()));
  make_machine(root, 64);
  PortsWatch watch(root);
  constexpr int looks = 100;
  const double before = cpu_s();
  for (int i = 0; i < looks; ++i) (void)watch.ports(PortsWatch::SteadyTime{PortsWatch::oldest * i});
  const double look_s = (cpu_s() - before) / looks;
  fmt::print("one look at 64 adapters     {:.2f} ms, at most once in {} s for all links: {:.3f} % of one core\n",
             1e3 * look_s, PortsWatch::oldest.count(),
             100.0 * look_s / static_cast<double>(PortsWatch::oldest.count()));
  fs::remove_all(root);
}

}  // namespace

int main(int argc, char** argv) {
  const double seconds = argc > 1 ? std::max(1.0, std::strtod(argv[1], nullptr)) : 10.0;
#ifndef NDEBUG
  fmt::print("WARNING: optimisation is off, the figures say little\n");
#endif
  for (const Wait wait : {Wait::unplugged, Wait::server_gone, Wait::silent})
    for (const std::size_t meters : {std::size_t{1}, std::size_t{64}}) measure(meters, wait, seconds);
  measure_look();
  double worst_s = 0.0;
  for (int i = 0; i < 10; ++i) worst_s = std::max(worst_s, found_again_s(2.0 + 0.13 * i));
  fmt::print("put back after 2 to 3 s     open again within {:.2f} s (worst of 10)\n", worst_s);
}
