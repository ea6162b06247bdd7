// The uncertainty of one indication (JCGM 100): accuracy specification as a rectangular distribution, resolution, the
// spread of the readings it is the mean of, and in two-wire work the leads and the contact of the probes.
#pragma once

#include <optional>
#include <string>

#include "switchwright/judge/indication.hpp"
#include "switchwright/judge/leads.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// All in the SI unit of the indication.
struct Uncertainty {
  double limit_of_error = 0.0;  ///< a = percent x |value| + digits x resolution
  double u_accuracy = 0.0;      ///< a / sqrt(3), JCGM 100 4.3.7
  double u_resolution = 0.0;    ///< resolution / sqrt(12), JCGM 100 F.2.2.1
  double u_calibration = 0.0;   ///< of the correction that is applied, from the certificate; 0 when there is none
  double u_leads = 0.0;         ///< lead reading (its own accuracy and resolution) and drift as a rectangle
  double u_spread = 0.0;        ///< type A: standard deviation of the readings while they settled
  double u_probes = 0.0;        ///< two-wire only: the tips touch a little differently each time
  double u = 0.0;               ///< combined
  double k = 2.0;
  double U = 0.0;         ///< k u
  bool specified = true;  ///< false: the definition has no accuracy for this quantity; U is resolution only
};

/// A reading with the correction of the meter's calibration certificate added; as it is when there is none.
double calibrated(const MeterDefinition& meter, Quantity quantity, double value);

/// How much the contact of the two tips differs from one touch to the next, half-width, ohm (common practice, no source:
/// probe pressure alone moves a reading by some 10 to 20 mohm).
inline constexpr double probe_contact_ohm = 0.02;

/// Uncertainty of a finite reading; `leads` only for two-wire resistance, nullptr when not subtracted.
Uncertainty uncertainty_of(const MeterDefinition& meter, Quantity quantity, double value, double resolution,
                           const Leads* leads = nullptr, double k = 2.0);
/// The same of a settled indication, with the spread of its readings.
Uncertainty uncertainty_of(const MeterDefinition& meter, const Indication& indication, const Leads* leads = nullptr,
                           double k = 2.0);

}  // namespace switchwright
