#include "switchwright/judge/leads.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/uncertainty.hpp"
#include "switchwright/judge/wording.hpp"

namespace switchwright {

namespace {

/// Two displays of the same leads differ by no more (common practice, no source: two digits, or 0.05 ohm by hand).
double allowed_drift_ohm(double digit) { return std::max(2.0 * digit, 0.05) * (1.0 + 1e-9); }

double ohm_of(const Indication& lead, const MeterDefinition& meter) {
  return calibrated(meter, lead.quantity, lead.value);
}

double U_of(const Indication& lead, const MeterDefinition& meter, double k) {
  return uncertainty_of(meter, lead, nullptr, k).U;
}

bool below_zero(const Indication& lead, const MeterDefinition& meter, double k) {
  return ohm_of(lead, meter) < -U_of(lead, meter, k);
}

bool too_high(const Indication& lead, const MeterDefinition& meter) {
  return ohm_of(lead, meter) > most_lead_ohm * (1.0 + 1e-9);
}

std::string shown(const Indication& lead) { return wording::ohm(lead.value, lead.resolution); }

}  // namespace

std::vector<const Indication*> Leads::known() const {
  std::vector<const Indication*> all;
  const auto take = [&](const Indication& lead) {
    if (lead.state == ReadingState::finite) all.push_back(&lead);
  };
  if (before) take(*before);
  for (const Indication& lead : between) take(lead);
  if (after) take(*after);
  return all;
}

double Leads::correction_ohm() const { return correction_ohm(MeterDefinition{}); }

double Leads::correction_ohm(const MeterDefinition& meter) const {
  const auto all = known();
  if (all.empty()) return 0.0;
  double sum = 0.0;
  for (const Indication* lead : all) sum += ohm_of(*lead, meter);
  return sum / static_cast<double>(all.size());
}

double Leads::drift_ohm() const {
  const auto all = known();
  if (all.size() < 2) return 0.0;
  const auto [least, most] = std::minmax_element(
      all.begin(), all.end(), [](const Indication* a, const Indication* b) { return a->value < b->value; });
  return (*most)->value - (*least)->value;
}

LeadsJudged judge_leads(const Leads& leads, const MeterDefinition& meter, double k) {
  if (leads.ideal) return {};
  const auto over_range = [](const std::optional<Indication>& lead) {
    return lead && lead->state != ReadingState::finite;
  };
  if (over_range(leads.before) || over_range(leads.after))
    return {
        LeadFault::open, true, most_lead_ohm,
        "With the probes held together the leads read over-range: a lead or a plug is broken, or the probes did not "
        "touch. Replace the leads and measure again."};
  const auto all = leads.known();
  if (all.empty())
    return {LeadFault::not_measured, false, most_lead_ohm,
            fmt::format(
                "The leads were not measured: nothing is subtracted, every two-wire reading may be wrong by {} either "
                "way, and nothing nearer to its limit than that is decided. Measure the leads.",
                human_ohm(most_lead_ohm))};

  // Whatever the leads really had lies between nothing and the most that was read.
  double most = 0.0;
  double digit = 0.0;
  for (const Indication* lead : all) {
    most = std::max(most, std::abs(ohm_of(*lead, meter)));
    digit = std::max(digit, lead->resolution);
  }
  for (const Indication* lead : all) {
    if (below_zero(*lead, meter, k))
      return {LeadFault::negative, true, most,
              fmt::format(
                  "With the probes held together the meter read {}: below zero there is no resistance, only a wrong "
                  "zero of the meter or a voltage. Set the meter's zero (relative off) and measure everything again.",
                  shown(*lead))};
    if (too_high(*lead, meter))
      return {LeadFault::too_high, true, most,
              fmt::format(
                  "The leads read {}: more than {} can hide a bad contact, so nothing passes with them. Clean plugs "
                  "and tips, hold the tips firmly together or replace the leads, and measure everything again.",
                  shown(*lead), human_ohm(most_lead_ohm))};
  }
  if (leads.drift_ohm() > allowed_drift_ohm(digit)) {
    const auto [least, greatest] = std::minmax_element(
        all.begin(), all.end(), [](const Indication* a, const Indication* b) { return a->value < b->value; });
    const bool fell = greatest < least;
    return {
        LeadFault::drifted, true, most,
        fmt::format("The leads drifted from {} to {} during the work; the drift is in U, and nothing passes with such "
                    "leads. Clean the plugs or replace the leads, and measure everything again.",
                    shown(fell ? **greatest : **least), shown(fell ? **least : **greatest))};
  }
  if (all.size() < 2)
    return {
        LeadFault::measured_once, false, most,
        "The leads were measured only once: their drift during the work is not known, so every two-wire reading may be "
        "wrong by as much as they have."};
  return {};
}

std::optional<std::string> lead_objection(const Indication& lead, const Leads& earlier, const MeterDefinition& meter,
                                          double k) {
  if (lead.state != ReadingState::finite)
    return "Over-range with the probes together: press the tips firmly together, or replace a broken lead.";
  if (below_zero(lead, meter, k))
    return fmt::format(
        "The leads read {}: below zero there is no resistance. Take the probes off anything live, switch the "
        "meter's relative or zero function off, and measure again.",
        shown(lead));
  if (too_high(lead, meter))
    return fmt::format(
        "The leads read {}: more than {} can hide a bad contact. Press the tips firmly together; clean plugs and "
        "tips or take other leads (good ones have 0.1 to 0.3 ohm), then measure again.",
        shown(lead), human_ohm(most_lead_ohm));
  double digit = lead.resolution;
  for (const Indication* one : earlier.known()) {
    digit = std::max(digit, one->resolution);
    if (std::abs(one->value - lead.value) > allowed_drift_ohm(digit))
      return fmt::format(
          "The leads read {} and had {} before: they drift, and what was read in between is doubtful. Press the "
          "tips firmly together and measure again; if it stays so, clean the plugs and begin again.",
          shown(lead), shown(*one));
  }
  return std::nullopt;
}

}  // namespace switchwright
