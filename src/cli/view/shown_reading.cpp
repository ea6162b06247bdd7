#include "cli/view/shown_reading.hpp"

#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

/// Open as it should be, and a position that is still to come will witness that the probes touch.
bool witness_to_come(const Settled& settled) {
  return settled.outlook && settled.outlook->witness == Witness::missing &&
         settled.outlook->expected.state == PairState::open && !settled.needs_contact_statement;
}

}  // namespace

std::string display_words(const Reading& reading) {
  if (reading.state == ReadingState::over_range) return is_resistance(reading.quantity) ? "open (over-range)" : "over-range";
  if (!reading.finite()) return "no number";
  return human_value(reading.value, reading.quantity, reading.resolution);
}

std::string kept_words(const Indication& indication, const std::optional<double>& corrected) {
  if (indication.state == ReadingState::over_range) return is_resistance(indication.quantity) ? "open" : "over-range";
  return human_value(corrected.value_or(indication.value), indication.quantity, indication.resolution);
}

std::string judged_words(const Settled& settled) {
  if (settled.indication.state == ReadingState::over_range)
    return is_resistance(settled.indication.quantity) ? "open (over-range)" : "over-range";
  return kept_words(settled.indication, settled.outlook ? settled.outlook->corrected : std::nullopt);
}

std::string difference_words(const Settled& settled) {
  if (!settled.outlook || !settled.outlook->corrected) return {};
  const std::string shown = kept_words(settled.indication, std::nullopt);
  const std::string judged = kept_words(settled.indication, settled.outlook->corrected);
  return shown == judged ? "" : "the meter shows " + shown + "; leads and corrections are taken off";
}

std::string outlook_words(const Settled& settled) {
  if (witness_to_come(settled)) return "Open, as it should be. A position to come must show that both probes touch.";
  if (settled.outlook) return settled.outlook->sentence;
  return settled.voltage_outlook ? settled.voltage_outlook->sentence : std::string{};
}

const char* outlook_paint(const Settled& settled) {
  const Outcome outcome = settled.outlook           ? settled.outlook->outcome
                          : settled.voltage_outlook ? settled.voltage_outlook->outcome
                                                    : Outcome::undecided;
  if (witness_to_come(settled) || outcome == Outcome::pass) return "32";
  return outcome == Outcome::fail ? "1;31" : "33";
}

}  // namespace switchwright::cli
