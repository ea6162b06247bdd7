// The uncertainty of one indication (JCGM 100): accuracy specification as a rectangular distribution,
// resolution, and the leads.
#pragma once

#include <optional>
#include <string>

#include "switchwright/meter/definition.hpp"
#include "switchwright/judge/indication.hpp"

namespace switchwright {

/// Lead resistance, measured with the probes shorted, before and (when known) after.
struct Leads {
  std::optional<Indication> before;
  std::optional<Indication> after;
  /// What is subtracted: the mean of what is known, never below 0; 0 when nothing is known.
  double correction_ohm() const;
  /// The same with the meter's calibration corrections applied to the lead readings first.
  double correction_ohm(const MeterDefinition& meter) const;
  /// |after - before|; 0 when one is missing.
  double drift_ohm() const;
};

/// All in the SI unit of the indication.
struct Uncertainty {
  double limit_of_error = 0.0;  ///< a = percent x |value| + digits x resolution
  double u_accuracy = 0.0;      ///< a / sqrt(3), JCGM 100 4.3.7
  double u_resolution = 0.0;    ///< resolution / sqrt(12), JCGM 100 F.2.2.1
  double u_calibration = 0.0;  ///< of the correction that is applied, from the certificate; 0 when there is none
  double u_leads = 0.0;         ///< lead reading (its own accuracy and resolution) and drift as a rectangle
  double u = 0.0;               ///< combined
  double k = 2.0;
  double U = 0.0;         ///< k u
  bool specified = true;  ///< false: the definition has no accuracy for this quantity; U is resolution only
};

/// A reading with the correction of the meter's calibration certificate added; as it is when there is none.
double calibrated(const MeterDefinition& meter, Quantity quantity, double value);

/// Uncertainty of a finite indication; `leads` only for two-wire resistance, nullptr when not subtracted.
Uncertainty uncertainty_of(const MeterDefinition& meter, Quantity quantity, double value, double resolution,
                           const Leads* leads = nullptr, double k = 2.0);

}  // namespace switchwright
