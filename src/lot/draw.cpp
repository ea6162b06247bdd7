#include "switchwright/lot/draw.hpp"

#include <algorithm>
#include <limits>
#include <numeric>
#include <random>
#include <unordered_set>
#include <utility>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

/// As the header describes it. The distributions of the standard library differ between its makers; the engine does not.
class Numbers {
 public:
  explicit Numbers(std::uint64_t seed) : engine_(seed) {}
  std::uint64_t below(std::uint64_t m) {
    const std::uint64_t beyond = (std::numeric_limits<std::uint64_t>::max() % m + 1) % m;  // 2^64 mod m
    std::uint64_t drawn = engine_();
    while (drawn > std::numeric_limits<std::uint64_t>::max() - beyond) drawn = engine_();
    return drawn % m;
  }

 private:
  std::mt19937_64 engine_;
};

void check(long lot_size, long sample_size) {
  if (lot_size < 1 || sample_size < 0 || sample_size > lot_size)
    throw Error(ErrorKind::usage, "a sample of " + std::to_string(sample_size) + " cannot be drawn from a lot of " +
                                      std::to_string(lot_size));
}

std::vector<long> shuffled(long lot_size, long how_many, std::uint64_t seed) {
  Numbers numbers{seed};
  std::vector<long> units(static_cast<std::size_t>(lot_size));
  std::iota(units.begin(), units.end(), 1L);
  for (std::size_t i = 0; i < static_cast<std::size_t>(how_many); ++i)
    std::swap(units[i], units[i + numbers.below(units.size() - i)]);
  units.resize(static_cast<std::size_t>(how_many));
  return units;
}

}  // namespace

std::string to_string(DrawingMethod method) { return method == DrawingMethod::random ? "random" : "systematic"; }

DrawingMethod drawing_method_named(std::string_view name) {
  if (name == "random") return DrawingMethod::random;
  if (name == "systematic") return DrawingMethod::systematic;
  throw Error(ErrorKind::usage, "units are not drawn \"" + terminal_safe(name) + "\"", "", "use random or systematic");
}

std::vector<long> draw_units(long lot_size, long sample_size, DrawingMethod method, std::uint64_t seed) {
  check(lot_size, sample_size);
  if (method == DrawingMethod::random) return shuffled(lot_size, sample_size, seed);
  std::vector<long> units;
  const auto start = static_cast<long>(Numbers{seed}.below(static_cast<std::uint64_t>(lot_size)));
  for (long i = 0; i < sample_size; ++i) units.push_back((start + i * lot_size) / sample_size + 1);
  return units;
}

long draw_replacement(long lot_size, const std::vector<long>& taken, std::uint64_t seed) {
  check(lot_size, 0);
  const std::unordered_set<long> gone(taken.begin(), taken.end());
  for (const long unit : shuffled(lot_size, lot_size, seed))
    if (!gone.contains(unit)) return unit;
  return 0;
}

}  // namespace switchwright
