// What a meter cannot decide about a part, said before the work starts.
#include <fmt/format.h>

#include <cmath>

#include "switchwright/core/text.hpp"
#include "switchwright/judge/judge.hpp"
#include "switchwright/judge/wording.hpp"
#include "switchwright/profile/contact_limits.hpp"

namespace switchwright {

std::vector<std::string> undecidable(const Profile& profile, const MeterDefinition& meter, double k) {
  std::vector<std::string> sentences;
  const Quantity quantity = Quantity::resistance;
  if (meter.finest(quantity) == nullptr) {
    sentences.push_back(
        "The meter definition gives no accuracy for ohms: U will be the display's resolution alone. Add the "
        "accuracy "
        "from the meter's manual to its definition.");
    return sentences;
  }
  const auto U_at = [&](double ohm) { return uncertainty_of(meter, quantity, ohm, 0.0, nullptr, k).U; };
  const Limits& limits = profile.limits;

  if (const double U = U_at(limits.closed_max_ohm); U > limits.closed_max_ohm)
    sentences.push_back(
        fmt::format("This meter cannot decide whether a contact is closed (at most {}): U is {} there. Use a "
                    "meter with a finer "
                    "ohms range.",
                    human_ohm(limits.closed_max_ohm), wording::two_figures_ohm(U)));
  const double sound_ohm = strictest_sound_ohm(profile);
  if (const double U = std::isfinite(sound_ohm) ? U_at(sound_ohm) : 0.0; U > sound_ohm)
    sentences.push_back(fmt::format(
        "This meter cannot decide whether a closed contact is sound (at most {}): U is {} there. Measure with four wires, or "
        "measure the millivolt drop under a known current ({:.3g} mV at 1 A is the limit).",
        wording::two_figures_ohm(sound_ohm), wording::two_figures_ohm(U), sound_ohm * 1e3));

  const auto top = meter.top_of_range(quantity);
  if (top && *top < limits.open_min_ohm)
    sentences.push_back(
        fmt::format("This meter cannot decide whether a contact is open (at least {}): its highest range "
                    "ends at {}. Use a meter "
                    "that reaches {}.",
                    human_ohm(limits.open_min_ohm), human_ohm(*top), human_ohm(limits.open_min_ohm)));
  else if (const double U = U_at(limits.open_min_ohm); U > limits.open_min_ohm)
    sentences.push_back(
        fmt::format("This meter cannot decide whether a contact is open (at least {}): U is {} there. Use a "
                    "meter that is more "
                    "accurate in its highest range.",
                    human_ohm(limits.open_min_ohm), wording::two_figures_ohm(U)));

  for (const Element& element : profile.elements) {
    if (element.strikes_v) continue;  // reads open
    const double half_width = element.nominal_ohm * element.tolerance_pct / 100.0;
    const std::string band =
        fmt::format("the {} ({} within {:g} %)", element.id, human_ohm(element.nominal_ohm), element.tolerance_pct);
    if (top && *top < element.nominal_ohm + half_width)
      sentences.push_back(
          fmt::format("This meter cannot measure {}: its highest range ends at {}. Use a meter that "
                      "reaches {}.",
                      band, human_ohm(*top), human_ohm(element.nominal_ohm + half_width)));
    else if (const double U = U_at(element.nominal_ohm); U > half_width)
      sentences.push_back(fmt::format(
          "This meter cannot decide whether {} is inside its band: U is {} there. Use a more accurate meter.", band,
          wording::two_figures_ohm(U)));
  }
  return sentences;
}

}  // namespace switchwright
