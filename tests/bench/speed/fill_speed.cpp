// How does a store behave that has been filled for years?
//   fill_speed make STORE RECORDS        adds invented records of 100 readings each, three links apiece
//   fill_speed add STORE                 keeps one more record as the bench does, a transaction for each reading, and says
//                                        how long the slowest took
// What the commands take on it: tests/bench/speed/fill_speed.py
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <string>
#include <vector>

#include "record/example.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;

namespace {

double seconds_since(std::chrono::steady_clock::time_point from) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

Batch readings(int count) {
  Batch batch;
  for (int step = 1; step <= count; ++step) {
    const Batch one = example::step_batch(step, step, 0.3 + 0.001 * step);
    batch.steps.push_back(one.steps.front());
    batch.readings.push_back(one.readings.front());
    batch.indications.push_back(one.indications.front());
  }
  return batch;
}

void make(const std::string& path, int records) {
  Store store{path};
  const Batch all = readings(100), closing = example::closing_batch();
  for (int i = 0; i < records; ++i) {
    RecordHeader header = example::header();
    header.started += std::chrono::minutes(i);
    header.serial = fmt::format("S-{:06}", i);
    header.claim.lot = fmt::format("L-{}", i / 100);
    const std::string id = store.begin(header);
    store.append(id, all);
    store.append(id, closing);
  }
}

void add(const std::string& path) {
  const auto opened = std::chrono::steady_clock::now();
  Store store{path};
  const std::string id = store.begin(example::header());
  const double begun_s = seconds_since(opened);
  std::vector<double> each_ms;
  for (int step = 1; step <= 200; ++step) {
    const auto from = std::chrono::steady_clock::now();
    store.append(id, example::step_batch(step, step, 0.3));
    each_ms.push_back(1e3 * seconds_since(from));
  }
  std::sort(each_ms.begin(), each_ms.end());
  fmt::print(
      "opened and begun in {:.3f} s; a settled indication kept in {:.2f} ms (median), {:.2f} ms (slowest of {})\n",
      begun_s, each_ms[each_ms.size() / 2], each_ms.back(), each_ms.size());
}

}  // namespace

int main(int argc, char** argv) try {
  const std::string what = argc > 2 ? argv[1] : "";
  if (what == "make" && argc > 3)
    make(argv[2], std::atoi(argv[3]));
  else if (what == "add")
    add(argv[2]);
  else
    return fmt::print(stderr, "usage: fill_speed make STORE RECORDS | add STORE\n"), 2;
  return 0;
} catch (const Error& error) {
  fmt::print(stderr, "{}\n", error.what());
  return 2;
}
