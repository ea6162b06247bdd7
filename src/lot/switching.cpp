#include "switchwright/lot/switching.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numeric>

#include "switchwright/core/error.hpp"

namespace switchwright {

namespace {

constexpr int window = 5;               // 4.7.1: two lots of so many
constexpr int accepted_for_normal = 5;  // 4.7.2

int strictness(InspectionMode mode) {
  return mode == InspectionMode::tightened ? 2 : mode == InspectionMode::normal ? 1 : 0;
}

std::string times(long count, const char* noun) { return fmt::format("{} {}{}", count, noun, count == 1 ? "" : "s"); }

SwitchingState begun(InspectionMode mode, std::string reason) {
  SwitchingState state;
  state.mode = mode;
  state.reason = std::move(reason);
  state.switched = true;
  return state;
}

/// What keeps a lot that has been accepted from being followed by reduced inspection; empty: nothing does.
std::string lacks_for_reduced(const SwitchingState& state, const SwitchingAgreement& agreement) {
  if (state.accepted_in_a_row < agreement.lots_for_reduced)
    return fmt::format("{} accepted in a row, reduced inspection asks for {}", times(state.accepted_in_a_row, "lot"),
                       agreement.lots_for_reduced);
  const long total = std::accumulate(state.recent_defective.begin(), state.recent_defective.end(), 0L);
  if (!agreement.limit_waived) {
    if (!agreement.limit_number) return "no limit number was agreed for reduced inspection";
    if (total > *agreement.limit_number)
      return fmt::format("{} in the last {} lots, reduced inspection allows {}", times(total, "defective unit"),
                         agreement.lots_for_reduced, *agreement.limit_number);
  }
  if (!agreement.production_steady) return "production is not stated to be steady, as reduced inspection asks for";
  if (!agreement.reduced_is_desired) return "reduced inspection is possible but not wanted";
  return {};
}

SwitchingState on_normal(SwitchingState state, const InspectedLot& lot, const SwitchingAgreement& agreement) {
  if (!lot.accepted) {
    const auto before = state.last_rejected;
    state.last_rejected = state.lots;
    if (before && state.lots - *before < window)
      return begun(InspectionMode::tightened,
                   fmt::format("Two of {} consecutive lots were rejected on normal inspection (MIL-STD-105E 4.7.1).",
                               state.lots - *before + 1));
    state.reason = fmt::format(
        "Normal inspection goes on; another lot rejected among the next {} means tightened inspection.", window - 1);
    return state;
  }
  const std::string lacking = lacks_for_reduced(state, agreement);
  if (lacking.empty())
    return begun(
        InspectionMode::reduced,
        fmt::format(
            "The last {} lots were accepted on normal inspection{}, production is steady and reduced inspection "
            "is wanted (MIL-STD-105E 4.7.3).",
            agreement.lots_for_reduced,
            agreement.limit_waived ? " (limit number dropped by agreement)" : " within the limit number"));
  state.reason = "Normal inspection goes on: " + lacking + ".";
  return state;
}

SwitchingState on_tightened(SwitchingState state, const InspectedLot& lot, const SwitchingAgreement& agreement) {
  if (lot.accepted) {
    if (state.accepted_in_a_row >= accepted_for_normal)
      return begun(InspectionMode::normal,
                   fmt::format("{} consecutive lots were accepted on tightened inspection (MIL-STD-105E 4.7.2).",
                               accepted_for_normal));
    state.reason = fmt::format("Tightened inspection goes on: {} accepted in a row, normal inspection asks for {}.",
                               times(state.accepted_in_a_row, "lot"), accepted_for_normal);
    return state;
  }
  ++state.rejected_on_tightened;
  if (agreement.discontinue_after > 0 && state.rejected_on_tightened >= agreement.discontinue_after) {
    state.discontinued = true;
    state.switched = true;
    state.reason = fmt::format(
        "{} were rejected on tightened inspection: nothing is accepted until the supplier has put it right "
        "(MIL-STD-105E 4.8).",
        times(state.rejected_on_tightened, "lot"));
    return state;
  }
  state.reason = agreement.discontinue_after > 0
                     ? fmt::format("Tightened inspection goes on: {} rejected on it, acceptance ends with {}.",
                                   times(state.rejected_on_tightened, "lot"), agreement.discontinue_after)
                     : "Tightened inspection goes on.";
  return state;
}

SwitchingState on_reduced(SwitchingState state, const InspectedLot& lot, const SwitchingAgreement& agreement) {
  if (!lot.accepted)
    return begun(InspectionMode::normal, "A lot was rejected on reduced inspection (MIL-STD-105E 4.7.4 a).");
  if (lot.between_numbers)
    return begun(InspectionMode::normal,
                 "A lot was accepted between the acceptance and the rejection number of reduced inspection "
                 "(MIL-STD-105E 4.7.4 b).");
  if (!agreement.production_steady)
    return begun(InspectionMode::normal, "Production is not stated to be steady any more (MIL-STD-105E 4.7.4 c).");
  if (!agreement.reduced_is_desired)
    return begun(InspectionMode::normal, "Reduced inspection is not wanted any more (MIL-STD-105E 4.7.4 d).");
  state.reason = "Reduced inspection goes on.";
  return state;
}

}  // namespace

SwitchingState after_lot(const SwitchingState& before, const InspectedLot& lot, const SwitchingAgreement& agreement) {
  SwitchingState state = before;
  state.switched = false;
  if (state.discontinued || !lot.original) return state;
  const bool weaker = lot.inspected && strictness(*lot.inspected) < strictness(state.mode);
  if (weaker && lot.accepted) {
    state.reason =
        fmt::format("{} inspection goes on: the last lot was inspected as {}, and its acceptance does not count.",
                    state.mode == InspectionMode::tightened ? "Tightened" : "Normal", to_string(*lot.inspected));
    return state;
  }
  ++state.lots;
  state.accepted_in_a_row = lot.accepted ? state.accepted_in_a_row + 1 : 0;
  state.recent_defective.push_back(lot.defective);
  if (state.recent_defective.size() > static_cast<std::size_t>(std::max(agreement.lots_for_reduced, 1)))
    state.recent_defective.erase(state.recent_defective.begin());
  switch (state.mode) {
    case InspectionMode::normal: return on_normal(std::move(state), lot, agreement);
    case InspectionMode::tightened: return on_tightened(std::move(state), lot, agreement);
    case InspectionMode::reduced: break;
  }
  return on_reduced(std::move(state), lot, agreement);
}

SwitchingState after_corrective_action(const SwitchingState& state) {
  if (!state.discontinued) return state;
  return begun(InspectionMode::tightened,
               "The supplier has put right what was wrong: tightened inspection (MIL-STD-105E 4.8).");
}

SwitchingState after_irregular_production(const SwitchingState& state, const std::string& why) {
  if (state.mode != InspectionMode::reduced) return state;
  return begun(InspectionMode::normal, "Reduced inspection ended: " + why + " (MIL-STD-105E 4.7.4).");
}

SwitchingState state_after(std::span<const InspectedLot> lots, const SwitchingAgreement& agreement,
                           SwitchingState start) {
  for (const InspectedLot& lot : lots) start = after_lot(start, lot, agreement);
  return start;
}

double scheme_acceptance(double normal_pa, double tightened_pa) {
  if (normal_pa >= 1.0) return 1.0;
  if (tightened_pa <= 0.0) return 0.0;  // tightened inspection is never left
  if (tightened_pa >= 1.0) tightened_pa = 1.0 - 1e-15;
  const double n4 = std::pow(normal_pa, 4), t5 = std::pow(tightened_pa, 5);
  const double on_normal = (2.0 - n4) / ((1.0 - normal_pa) * (1.0 - n4));
  const double on_tightened = (1.0 - t5) / ((1.0 - tightened_pa) * t5);
  return (on_normal * normal_pa + on_tightened * tightened_pa) / (on_normal + on_tightened);
}

}  // namespace switchwright
