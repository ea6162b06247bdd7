#include "switchwright/lot/curtailment.hpp"

#include <algorithm>

#include "switchwright/core/error.hpp"

namespace switchwright {

Curtailment curtailment(const SampleCount& count) {
  const bool negative =
      count.tested < 0 || count.defective < 0 || count.open < 0 || count.sample_size < 1 || count.accept < 0;
  if (negative || count.defective > count.tested || count.tested + count.open > count.sample_size ||
      count.reject <= count.accept)
    throw Error(ErrorKind::usage, "the counts of the sample contradict each other");
  Curtailment c;
  c.to_go = count.sample_size - count.tested;
  c.complete = c.to_go == 0;
  c.rejection_certain = count.defective >= count.reject;
  c.acceptance_certain = count.defective + c.to_go < count.reject;
  c.may_still_fail = std::max(0L, count.reject - 1 - count.defective);
  c.between_numbers = count.defective > count.accept && count.defective < count.reject;
  return c;
}

}  // namespace switchwright
