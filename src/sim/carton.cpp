#include "switchwright/sim/carton.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numeric>
#include <random>
#include <utility>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

/// The places of the carton in random order. The distributions of the library differ between compilers, the engine does not.
std::vector<std::size_t> shuffled(std::size_t count, std::mt19937_64& random) {
  std::vector<std::size_t> order(count);
  std::iota(order.begin(), order.end(), std::size_t{0});
  for (std::size_t i = count; i > 1; --i) std::swap(order[i - 1], order[random() % i]);
  return order;
}

double gauss(std::mt19937_64& random) {
  constexpr double two_pi = 6.283185307179586;
  const auto unit = [&] { return (static_cast<double>(random() >> 11U) + 0.5) * 0x1p-53; };
  const double radius = std::sqrt(-2.0 * std::log(unit()));
  return radius * std::cos(two_pi * unit());
}

bool has_fault_of_its_own(const std::vector<Fault>& faults, const std::string& element) {
  for (const Fault& fault : faults)
    if (fault.id == element) return true;
  return false;
}

}  // namespace

std::vector<SimulatedUnit> deal(const SimulatedCarton& carton, const Profile& part, std::uint64_t seed) {
  std::mt19937_64 random{seed};
  const auto size = static_cast<std::size_t>(carton.size);
  std::vector<SimulatedUnit> units(size);
  const auto order = shuffled(size, random);
  std::size_t dealt = 0;
  const auto give = [&](double share, const auto& make) {
    const auto count = static_cast<std::size_t>(std::lround(share * static_cast<double>(size)));
    if (dealt + count > size)
      throw Error(ErrorKind::usage, "the shares are more than the carton holds", "--lot-fault, --lot-version",
                  "let them add up to 100 % at most");
    for (std::size_t i = 0; i < count; ++i) make(units[order[dealt++]]);
  };
  for (const auto& version : carton.versions)
    give(version.share, [&](SimulatedUnit& unit) {
      unit.profile = &version.profile;
      unit.what = "profile:" + version.profile.id;
    });
  for (const auto& faulty : carton.faulty)
    give(faulty.share, [&](SimulatedUnit& unit) {
      unit.faults = faulty.faults;
      unit.what = faulty.name;
    });
  for (std::size_t i = 0; i < size; ++i) {
    SimulatedUnit& unit = units[i];
    unit.label = fmt::format("SIM-{:04}", i + 1);
    if (unit.what.empty()) unit.what = "good";
    if (!(carton.spread > 0.0)) continue;
    unit.contact_factor = std::exp(carton.spread * gauss(random));
    for (const Element& element : (unit.profile ? *unit.profile : part).elements) {
      const double percent = 100.0 * carton.spread * gauss(random);
      if (has_fault_of_its_own(unit.faults, element.id) || std::abs(percent) < 1e-9) continue;
      Fault drifted;
      drifted.kind = FaultKind::drifted;
      drifted.id = element.id;
      drifted.value = percent;
      unit.faults.push_back(drifted);
    }
  }
  for (const auto& [unit, other] : carton.same_label)
    units[static_cast<std::size_t>(unit) - 1].label = units[static_cast<std::size_t>(other) - 1].label;
  return units;
}

}  // namespace switchwright
