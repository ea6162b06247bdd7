// Calibration corrections in the uncertainty budget and in what is subtracted for the leads.
#include <doctest/doctest.h>

#include <cmath>

#include "switchwright/judge/uncertainty.hpp"

using namespace switchwright;

namespace {

MeterDefinition meter_with(std::vector<Correction> corrections) {
  MeterDefinition meter;
  meter.accuracy = {{Quantity::resistance, 400.0, 0.1, 0.0, 0.0}};
  meter.corrections = std::move(corrections);
  return meter;
}

Indication ohms(double value) {
  Indication indication;
  indication.value = value;
  indication.resolution = 0.1;
  return indication;
}

}  // namespace

TEST_CASE("a correction is added to the reading inside its part of the range only") {
  const MeterDefinition meter = meter_with({{Quantity::resistance, 1.0, 100.0, 0.5, 0.2, 2.0}});
  CHECK(calibrated(meter, Quantity::resistance, 0.9) == 0.9);
  CHECK(calibrated(meter, Quantity::resistance, 10.0) == 10.5);
  CHECK(calibrated(meter, Quantity::resistance, 100.0) == 100.0);
  CHECK(calibrated(meter, Quantity::voltage_dc, 10.0) == 10.0);
}

TEST_CASE("a constant offset of the meter cancels between reading and leads") {
  // JCGM 100 F.2.4.5 asks that known effects be corrected; reading and leads carry the same one.
  const MeterDefinition meter = meter_with({{Quantity::resistance, 0.0, 400.0, -0.3, 0.0, 2.0}});
  const Leads leads{ohms(0.5), ohms(0.5)};
  CHECK(leads.correction_ohm(meter) == doctest::Approx(0.2));
  CHECK(leads.correction_ohm() == doctest::Approx(0.5));
  CHECK(calibrated(meter, Quantity::resistance, 10.5) - leads.correction_ohm(meter) == doctest::Approx(10.0));
}

TEST_CASE("the uncertainty of the correction is added in squares with its own coverage factor") {
  // JCGM 100 equation (11a) and 4.3.3: u = U/k from a certificate.
  const MeterDefinition meter = meter_with({{Quantity::resistance, 0.0, 400.0, 0.5, 0.3, 3.0}});
  const Uncertainty budget = uncertainty_of(meter, Quantity::resistance, 10.0, 0.1);
  CHECK(budget.u_calibration == doctest::Approx(0.1));
  CHECK(budget.u == doctest::Approx(std::sqrt(0.1 * 0.1 + 0.1 * 0.1 / 12.0)));
}
