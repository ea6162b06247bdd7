#include "switchwright/lot/simulation.hpp"

#include <cmath>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

/// SplitMix64 (Steele, Lea and Flood 2014; from memory): ample for counting, and much faster than what draws the units of a real lot.
class Fast {
 public:
  explicit Fast(std::uint64_t seed) : state_(seed) {}
  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15ULL);
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31U);
  }
  /// Above 0, at most 1.
  double share() { return static_cast<double>((next() >> 11U) + 1) * 0x1p-53; }

 private:
  std::uint64_t state_;
};

/// Defective units among `size`, each with chance p: from one defective unit straight to the next.
long defective_in(long size, double p, double log_of_good, Fast& random) {
  if (p <= 0.0) return 0;
  if (p >= 1.0) return size;
  long count = 0;
  for (double at = 0.0;; ++count) {
    at += std::floor(std::log(random.share()) / log_of_good) + 1.0;
    if (at > static_cast<double>(size)) return count;
  }
}

/// A lot at the bench: units left and defective ones among them.
struct Carton {
  long left, defective;

  /// Draws up to `n` units; stops when the count reaches `reject`, or cannot any more.
  void draw(long n, long reject, long& count, long long& inspected, Fast& random) {
    for (long to_go = n; to_go > 0 && count < reject && count + to_go >= reject; --to_go) {
      const bool bad = static_cast<double>(defective) >= random.share() * static_cast<double>(left);
      count += bad;
      defective -= bad;
      --left;
      ++inspected;
    }
  }
};

}  // namespace

EmpiricalPoint try_plan(const StagedPlan& plan, long lot_size, double p, long lots, std::uint64_t seed) {
  if (plan.n1 + plan.n2 > lot_size) throw Error(ErrorKind::usage, "the sample is larger than the lot");
  if (!(p >= 0.0 && p <= 1.0)) throw Error(ErrorKind::usage, "a share defective lies between 0 and 1");
  Fast random{seed};
  const double log_of_good = std::log1p(-p);
  EmpiricalPoint result;
  for (result.lots = 0; result.lots < lots; ++result.lots) {
    Carton carton{lot_size, defective_in(lot_size, p, log_of_good, random)};
    long count = 0;
    if (plan.n2 == 0) {
      carton.draw(plan.n1, plan.reject1, count, result.inspected, random);
      result.accepted += count < plan.reject1;
      continue;
    }
    // The first of two samples has two numbers to decide by and is always drawn to its end or to its rejection.
    for (long i = 0; i < plan.n1 && count < plan.reject1; ++i)
      carton.draw(1, count + 1, count, result.inspected, random);
    if (count > plan.accept1 && count < plan.reject1)
      carton.draw(plan.n2, plan.accept2 + 1, count, result.inspected, random);
    else if (count >= plan.reject1)
      continue;
    result.accepted += count <= plan.accept1 || count <= plan.accept2;
  }
  return result;
}

}  // namespace switchwright
