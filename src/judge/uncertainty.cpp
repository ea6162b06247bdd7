// The uncertainty budget of one indication, JCGM 100: independent contributions, added in squares.
//
//   accuracy    a = percent of |value| + digits x resolution; rectangular: a / sqrt(3)                 (4.3.7)
//   resolution  one digit d; rectangular of half-width d/2: d / sqrt(12)                               (F.2.2.1)
//   calibration where the certificate gives a correction, it is added to the reading, and its U/k counts here. The
//               accuracy specification stays in: it also covers drift since the calibration.
//   spread      type A: the standard deviation of the readings in the settling window, not divided by the root of
//               their number, because readings a fraction of a second apart are not independent          (4.2.3)
//   leads       the lead indication's own accuracy and resolution, as above; with several lead indications their
//               mean is subtracted, and because the same meter reads nearly the same value twice its error does not
//               average out: the mean of the standard uncertainties is kept, not their root mean square. Where
//               inside the drift the leads stood at the time is unknown: a rectangle from the least to the most,
//               that is drift / sqrt(12).
//   probes      two-wire only: the tips touch a little differently each time; a rectangle of half-width
//               probe_contact_ohm
//
// The lead contribution is taken as independent of the reading's. It is not quite: the meter's offset is the same in
// both and cancels in the difference, so the U given here is on the safe side (too large, never too small).
#include "switchwright/judge/uncertainty.hpp"

#include <algorithm>
#include <cmath>

namespace switchwright {

namespace {

const double sqrt_3 = std::sqrt(3.0);
const double sqrt_12 = std::sqrt(12.0);

double combined(const Uncertainty& budget) {
  double sum = 0.0;
  for (const double u :
       {budget.u_accuracy, budget.u_resolution, budget.u_calibration, budget.u_leads, budget.u_spread, budget.u_probes})
    sum += u * u;
  return std::sqrt(sum);
}

}  // namespace

double calibrated(const MeterDefinition& meter, Quantity quantity, double value) {
  const Correction* correction = meter.correction_for(quantity, value);
  return correction ? value + correction->add : value;
}

Uncertainty uncertainty_of(const MeterDefinition& meter, Quantity quantity, double value, double resolution,
                           const Leads* leads, double k) {
  Uncertainty budget;
  budget.k = k;
  const AccuracyRow* row = meter.accuracy_for(quantity, value, resolution);
  budget.specified = row != nullptr;
  if (row) {
    budget.limit_of_error = row->percent_of_reading * std::abs(value) / 100.0 + row->digits * row->resolution;
    if (resolution <= 0.0) resolution = row->resolution;
  }
  budget.u_accuracy = budget.limit_of_error / sqrt_3;
  budget.u_resolution = resolution / sqrt_12;
  if (const Correction* correction = meter.correction_for(quantity, value))
    budget.u_calibration = correction->U / correction->k;

  if (leads && !leads->ideal) {
    double sum = 0.0;
    const auto known = leads->known();
    for (const Indication* lead : known) sum += uncertainty_of(meter, *lead, nullptr, k).u;
    const double own = known.empty() ? 0.0 : sum / static_cast<double>(known.size());
    budget.u_leads = std::hypot(own, leads->drift_ohm() / sqrt_12);
    budget.u_probes = probe_contact_ohm / sqrt_3;
  }
  budget.u = combined(budget);
  budget.U = k * budget.u;
  return budget;
}

Uncertainty uncertainty_of(const MeterDefinition& meter, const Indication& indication, const Leads* leads, double k) {
  Uncertainty budget = uncertainty_of(meter, indication.quantity, indication.value, indication.resolution, leads, k);
  budget.u_spread = indication.spread;
  budget.u = combined(budget);
  budget.U = k * budget.u;
  return budget;
}

}  // namespace switchwright
