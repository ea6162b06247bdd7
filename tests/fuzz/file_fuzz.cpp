// Readers of files from outside: a recorded series, a capture, a ledger of own meters. Each answers or throws Error(usage);
// what a series is analysed to does not depend on how the file is cut into blocks.
#include <sys/mman.h>
#include <unistd.h>

#include <cstdint>
#include <cstdlib>
#include <string>

#include "switchwright/core/error.hpp"
#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/meter/capture.hpp"
#include "switchwright/meter/own.hpp"

namespace {

using namespace switchwright;

struct Counter final : SampleSink {
  std::uint64_t samples = 0;
  double sum = 0.0;
  void take(std::size_t, std::span<const Sample> some) override {
    samples += some.size();
    for (const Sample& sample : some) sum += sample.value + sample.t_s;
  }
};

template <class Read>
void usage_or_answer(Read read) {
  try {
    read();
  } catch (const Error& error) {
    if (error.kind() != ErrorKind::usage) std::abort();
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const int fd = ::memfd_create("fuzz", MFD_CLOEXEC);
  if (fd < 0 || ::write(fd, data, size) != static_cast<ssize_t>(size)) std::abort();
  const std::string path = "/proc/self/fd/" + std::to_string(fd);
  usage_or_answer([&] { (void)load_capture(path); });
  usage_or_answer([&] { (void)load_own_meters(path); });
  usage_or_answer([&] {
    Counter large, small;
    SeriesFile whole{path};
    whole.read(large);
    SeriesFile cut{path, 64};
    cut.read(small);
    if (large.samples != small.samples || whole.rows() != cut.rows() || whole.bad_rows() != cut.bad_rows())
      std::abort();
    if (large.sum == large.sum && small.sum == small.sum && large.sum != small.sum &&
        whole.layout().channels.size() == 1)
      std::abort();
    (void)analyze_file(path);
  });
  ::close(fd);
  return 0;
}
