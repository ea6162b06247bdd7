// What people type and hand over as small files: numbers with units, loads, faults, stated results, tables of a study, a
// scanner's map, fault frequencies, addresses. Each answers or throws Error(usage).
#include <sys/mman.h>
#include <unistd.h>

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <string>

#include "page/gate.hpp"
#include "page/targets.hpp"
#include "switchwright/bench/stated_range.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/explain/hypothesis.hpp"
#include "switchwright/hands/scanner.hpp"
#include "switchwright/judge/drop.hpp"
#include "switchwright/judge/scope.hpp"
#include "switchwright/judge/stated.hpp"
#include "switchwright/lot/study.hpp"
#include "switchwright/page/server.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/wired.hpp"
#include "switchwright/suit/fit.hpp"
#include "switchwright/suit/quick_connect.hpp"

namespace {

using namespace switchwright;

template <class Read>
void usage_or_answer(Read read) {
  try {
    read();
  } catch (const Error& error) {
    if (error.kind() != ErrorKind::usage) std::abort();
  }
}

void feed_file_readers(const std::string& bytes, const Profile& part) {
  const int fd = ::memfd_create("fuzz", MFD_CLOEXEC);
  if (fd < 0 || ::write(fd, bytes.data(), bytes.size()) != static_cast<ssize_t>(bytes.size())) std::abort();
  const std::string path = "/proc/self/fd/" + std::to_string(fd);
  usage_or_answer([&] { (void)load_scanner_map(path, part); });
  ::close(fd);
}

void feed_numbers(const std::string& bytes) {
  for (const Amount amount :
       {Amount::volts, Amount::amperes, Amount::watts, Amount::ohms, Amount::seconds, Amount::celsius, Amount::inches,
        Amount::percent, Amount::share, Amount::hertz, Amount::number})
    usage_or_answer([&] {
      if (!std::isfinite(read_amount(bytes, amount, {0.0, 1e9}))) std::abort();  // a number that no limit can judge
    });
  usage_or_answer([&] {
    const double seconds = read_time(bytes);
    if (!(seconds > 0.0 && seconds <= 1e7)) std::abort();
  });
  usage_or_answer([&] {
    if (!(read_load_ohm(bytes) > 0.0)) std::abort();
  });
  usage_or_answer([&] {
    const unsigned long count = read_count(bytes, 1, 1000, "cycle");
    if (count < 1 || count > 1000) std::abort();
  });
  usage_or_answer([&] { (void)parse_load(bytes); });
  usage_or_answer([&] { (void)parse_current(bytes); });
  usage_or_answer([&] { (void)parse_gauge(bytes); });
  usage_or_answer([&] { (void)read_stated_range(bytes); });
  (void)is_calendar_date(bytes);
}

void feed_door(const std::string& bytes) {
  using namespace page;
  if (const auto target = read_target(bytes))
    if (target->path.empty() || target->path.front() != '/' || target->path.find("..") != std::string::npos)
      std::abort();
  Gate gate;
  gate.port = 8737;
  gate.names = {"bench.example"};
  gate.ticket = "0123456789abcdef0123456789abcdef";
  gate.token = "secret";
  (void)host_is_ours(gate, bytes, "127.0.0.1");
  (void)is_same_origin(gate, bytes, "127.0.0.1:8737");
  if (has_ticket(gate, bytes) && bytes.find(gate.ticket) == std::string::npos) std::abort();
  usage_or_answer([&] {
    ServerSettings settings;
    read_listen(bytes, settings);
  });
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(reinterpret_cast<const char*>(data), size);
  static const Profile part = load_profile("regulator-shunt-240", {std::string(SOURCE_DIR) + "/profiles"});
  feed_numbers(bytes);
  feed_door(bytes);
  feed_file_readers(bytes, part);
  usage_or_answer([&] { (void)parse_faults(bytes, part); });
  usage_or_answer([&] { (void)parse_fault_pattern(bytes, part); });
  usage_or_answer([&] { (void)parse_wired_load(bytes, part); });
  usage_or_answer([&] { (void)parse_stated(bytes, part); });
  usage_or_answer([&] { (void)parse_scope_parts(bytes); });
  usage_or_answer([&] { (void)read_study(bytes, "fuzz.csv"); });
  usage_or_answer([&] { (void)read_reference(bytes, "fuzz.csv"); });
  usage_or_answer([&] { (void)parse_fault_priors(bytes, "fuzz.toml"); });
  for (const char c : terminal_safe(bytes))
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) std::abort();
  return 0;
}
