// The uncertainty budget of one indication, JCGM 100: three independent contributions, added in squares.
//
//   accuracy    a = percent of |value| + digits; rectangular: a / sqrt(3)                      (4.3.7)
//   resolution  one digit d; rectangular of half-width d/2: d / sqrt(12)                       (F.2.2.1)
//   calibration where the certificate gives a correction, it is added to the reading, and its U/k counts here.
//               The accuracy specification stays in: it also covers drift since the calibration.
//   leads       the lead indication's own accuracy and resolution, as above; with two lead indications their
//   mean
//               is subtracted, and because the same meter reads nearly the same value twice its error does
//               not average out: the mean of the two standard uncertainties is kept, not their root mean
//               square. Where inside the drift the leads stood at the time is unknown: a rectangle from one
//               to the other, half-width drift/2, that is drift / sqrt(12).
//
// The lead contribution is taken as independent of the reading's. It is not quite: the meter's offset is the
// same in both and cancels in the difference, so the U given here is on the safe side (too large, never too
// small).
#include "switchwright/judge/uncertainty.hpp"

#include <algorithm>
#include <cmath>

namespace switchwright {

namespace {

const double sqrt_3 = std::sqrt(3.0);
const double sqrt_12 = std::sqrt(12.0);

/// A lead reading that was over-range is no lead resistance (a broken lead): it counts as unknown.
const Indication* known(const std::optional<Indication>& indication) {
  return indication && indication->state == ReadingState::finite ? &*indication : nullptr;
}

}  // namespace

double Leads::correction_ohm() const {
  return correction_ohm(MeterDefinition{});
}

double Leads::correction_ohm(const MeterDefinition& meter) const {
  const Indication* first = known(before);
  const Indication* last = known(after);
  const auto ohm_of = [&](const Indication* lead) { return calibrated(meter, lead->quantity, lead->value); };
  double ohm = 0.0;
  if (first && last)
    ohm = (ohm_of(first) + ohm_of(last)) / 2.0;
  else if (first || last)
    ohm = ohm_of(first ? first : last);
  return std::max(ohm, 0.0);
}

double Leads::drift_ohm() const {
  const Indication* first = known(before);
  const Indication* last = known(after);
  return first && last ? std::abs(last->value - first->value) : 0.0;
}

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

  if (leads) {
    double sum = 0.0;
    int count = 0;
    for (const Indication* lead : {known(leads->before), known(leads->after)}) {
      if (!lead) continue;
      sum += uncertainty_of(meter, lead->quantity, lead->value, lead->resolution, nullptr, k).u;
      ++count;
    }
    const double own = count > 0 ? sum / count : 0.0;
    budget.u_leads = std::hypot(own, leads->drift_ohm() / sqrt_12);
  }
  budget.u = std::hypot(std::hypot(budget.u_accuracy, budget.u_calibration), budget.u_resolution, budget.u_leads);
  budget.U = k * budget.u;
  return budget;
}

}  // namespace switchwright
