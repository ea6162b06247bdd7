// The fuzz entry points without a fuzzer: every build feeds them the seeds, and each seed damaged a few
// hundred times in ways that are the same on every machine. A capture is turned into the bytes that it holds.
#include <cstdint>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <random>
#include <sstream>
#include <string>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

#ifndef DAMAGED_COPIES
#define DAMAGED_COPIES 300
#endif
constexpr int damaged_copies = DAMAGED_COPIES;

std::string seed_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(file), {}};
  if (!path.ends_with(".capture")) return text;
  std::istringstream lines(text);
  std::string bytes;
  for (std::string line; std::getline(lines, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::istringstream words(line);
    std::string word;
    words >> word;  // the time
    while (words >> word) bytes += static_cast<char>(std::stoul(word, nullptr, 16));
  }
  return bytes;
}

void feed(const std::string& bytes) {
  LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
}

}  // namespace

int main(int argc, char** argv) {
  std::mt19937 random(1);
  for (int i = 1; i < argc; ++i) {
    const std::string seed = seed_of(argv[i]);
    feed(seed);
    for (int copy = 0; copy < damaged_copies && !seed.empty(); ++copy) {
      std::string damaged = seed;
      for (unsigned damage = 0; damage <= random() % 8; ++damage) {
        const std::size_t at = random() % (damaged.size() + 1);
        const char byte = static_cast<char>(random());
        switch (random() % 4) {
          case 0: damaged.insert(at, 1, byte); break;
          case 1: damaged.erase(at, 1 + random() % 4); break;
          case 2: damaged += damaged.substr(at); break;
          default:
            if (at < damaged.size()) damaged[at] = byte;
        }
      }
      feed(damaged);
    }
  }
  std::printf("%d seeds, each with %d damaged copies\n", argc - 1, damaged_copies);
  return argc > 1 ? 0 : 1;
}
