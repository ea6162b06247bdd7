#include "switchwright/lot/proportion.hpp"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

void check(long found, long n, double confidence) {
  if (n < 1 || found < 0 || found > n)
    throw Error(ErrorKind::usage, "a share is of at least one unit, and of no more than there are");
  if (!(confidence > 0.0 && confidence < 1.0)) throw Error(ErrorKind::usage, "a confidence lies between 0 and 1");
}

using Binomial = boost::math::binomial;

}  // namespace

Bounds clopper_pearson(long found, long n, double confidence) {
  check(found, n, confidence);
  const double tail = 0.5 * (1.0 - confidence);
  const auto trials = static_cast<double>(n), successes = static_cast<double>(found);
  return {found == 0 ? 0.0 : Binomial::find_lower_bound_on_p(trials, successes, tail),
          found == n ? 1.0 : Binomial::find_upper_bound_on_p(trials, successes, tail)};
}

Bounds wilson(long found, long n, double confidence) {
  check(found, n, confidence);
  const double z = boost::math::quantile(boost::math::complement(boost::math::normal{}, 0.5 * (1.0 - confidence)));
  const auto count = static_cast<double>(n);
  const double share = static_cast<double>(found) / count, scale = 1.0 + z * z / count;
  const double middle = share + z * z / (2.0 * count);
  const double half = z * std::sqrt(share * (1.0 - share) / count + z * z / (4.0 * count * count));
  return {found == 0 ? 0.0 : std::max(0.0, (middle - half) / scale),
          found == n ? 1.0 : std::min(1.0, (middle + half) / scale)};
}

double largest_share(long found, long n, double confidence) {
  check(found, n, confidence);
  return found == n
             ? 1.0
             : Binomial::find_upper_bound_on_p(static_cast<double>(n), static_cast<double>(found), 1.0 - confidence);
}

}  // namespace switchwright
