// Two rows per figure that fit the eye: mean with U and spread, then range, median and count.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/escape.hpp"
#include "report/wrap.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/report/cycling.hpp"

namespace switchwright {

namespace {

int decimals_for(double U) {
  if (!(U > 0.0) || !std::isfinite(U)) return 2;
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(U) + 1e-9)), 0, 6);
}

std::string number(double value, int decimals, const std::string& unit) {
  return fmt::format("{:.{}f}{}{}", value, decimals, unit.empty() ? "" : " ", unit);
}

/// Duty is shown in percent.
void add_figure(std::string& out, const char* name, const Figure& figure, std::uint64_t cycles, bool duty) {
  if (!figure.mean) return;
  const double factor = duty ? 100.0 : 1.0;
  const std::string unit = duty ? "%" : "s";
  const auto scaled = [&](const std::optional<double>& value) {
    return value ? std::optional<double>{*value * factor} : std::nullopt;
  };
  const auto U = scaled(figure.U);
  const int decimals = decimals_for(U.value_or(0.0));
  out += fmt::format("    {:<9} {}", name, with_uncertainty(*figure.mean * factor, U, unit));
  if (figure.sd) out += fmt::format("   sd {}", number(*figure.sd * factor, decimals, unit));
  out += "\n";
  if (cycles > 1 && figure.min && figure.max) {
    out += fmt::format("    {:<9} {} ... {}", "", number(*figure.min * factor, decimals, unit),
                       number(*figure.max * factor, decimals, unit));
    if (figure.median) out += fmt::format("   median {}", number(*figure.median * factor, decimals, unit));
    out += "\n";
  }
}

void add_figures(std::string& out, const CycleFigures& figures) {
  add_figure(out, "on", figures.on_s, figures.cycles, false);
  add_figure(out, "off", figures.off_s, figures.cycles, false);
  add_figure(out, "period", figures.period_s, figures.cycles, false);
  add_figure(out, "duty", figures.duty, figures.cycles, true);
}

std::string counted(std::uint64_t count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string state_words(ChannelState state) {
  switch (state) {
    case ChannelState::cycling: return "cycling";
    case ChannelState::always_on: return "on all the time";
    case ChannelState::always_off: return "off all the time";
    case ChannelState::unknown: return "too few samples to say";
  }
  return {};
}

std::string level(double value, const std::string& unit) {
  return fmt::format("{:.4g}{}{}", value, unit.empty() ? "" : " ", unit);
}

}  // namespace

std::string with_uncertainty(double value, const std::optional<double>& U, const std::string& unit) {
  if (!U || !(*U > 0.0)) return number(value, 2, unit);
  const int decimals = decimals_for(*U);
  return fmt::format("{} +/- {}", number(value, decimals, unit), number(*U, decimals, unit));
}

std::string life_words(const Life& life) {
  std::string text = fmt::format("{} switching operations in this trace", life.operations);
  if (life.records_before > 0)
    text += fmt::format(", {} in {} of this serial number", life.operations_before,
                        counted(life.records_before, "earlier trace", "earlier traces"));
  if (life.endurance_operations && *life.endurance_operations > 0.0)
    text +=
        fmt::format("; together {:.2g} % of the {:.0f} that the profile declares",
                    100.0 * static_cast<double>(life.total()) / *life.endurance_operations, *life.endurance_operations);
  return text + ".";
}

std::string coverage_words() {
  return "U is expanded with k = 2, or with Student's larger k where cycles are few or alike (coverage 95.45 %).";
}

std::string summary_text(const std::string& channel, const std::string& unit, const CycleSummary& s) {
  std::string out = fmt::format("{}: {}", line_safe(channel), state_words(s.state));
  if (s.complete_cycles > 0) out += ", " + counted(s.complete_cycles, "complete cycle", "complete cycles");
  out += fmt::format(" in {}", human_seconds(s.duration_s()));
  if (s.interval_s) out += fmt::format(", a sample every {}", human_seconds(*s.interval_s));
  if (s.update_s) out += fmt::format(", a display that changes every {}", human_seconds(*s.update_s));
  out += "\n";
  std::vector<std::string> levels;
  if (s.low_level) levels.push_back("off " + level(*s.low_level, unit));
  if (s.high_level) levels.push_back("on " + level(*s.high_level, unit));
  if (s.second_on_level) levels.push_back("second on-level " + level(*s.second_on_level, unit));
  if (s.reference_level) levels.push_back("reference " + level(*s.reference_level, unit));
  if (!levels.empty()) {
    out += "  levels      ";
    for (std::size_t i = 0; i < levels.size(); ++i) out += (i > 0 ? ", " : "") + levels[i];
    out += "\n";
  }
  if (!s.trusted)
    for (const std::string& reason : s.reasons) out += wrapped("  NOT TO BE TRUSTED: ", "    ", line_safe(reason));
  const bool some_steady = s.steady_from_cycle && *s.steady_from_cycle > 1 && s.steady.cycles > 0;
  if (s.all.period_s.mean) {
    if (some_steady) {
      out += fmt::format("  steady from cycle {} ({}):\n", *s.steady_from_cycle,
                         counted(s.steady.cycles, "cycle", "cycles"));
      add_figures(out, s.steady);
    }
    out += s.all.cycles == 1                     ? std::string("  one cycle:\n")
           : !some_steady && s.steady_from_cycle ? fmt::format("  all {} cycles (steady throughout):\n", s.all.cycles)
                                                 : fmt::format("  all {} cycles:\n", s.all.cycles);
    add_figures(out, s.all);
    if (s.drifting) out += "  It still drifts in the later half.\n";
  }
  std::vector<std::string> counts;
  if (s.gaps > 0) counts.push_back(counted(s.gaps, "gap", "gaps"));
  if (s.incomplete_cycles > 0) counts.push_back(counted(s.incomplete_cycles, "incomplete cycle", "incomplete cycles"));
  if (s.flagged_cycles > 0) counts.push_back(counted(s.flagged_cycles, "cycle", "cycles") + " with a short gap inside");
  if (s.blips > 0) counts.push_back(counted(s.blips, "blip", "blips") + " below the shortest dwell");
  if (s.clock_steps > 0) counts.push_back(counted(s.clock_steps, "clock step", "clock steps"));
  if (s.out_of_order_stamps > 0)
    counts.push_back(counted(s.out_of_order_stamps, "sample", "samples") + " out of order");
  if (s.over_range > 0) counts.push_back(counted(s.over_range, "over-range sample", "over-range samples"));
  if (!counts.empty()) out += wrapped("  also        ", "              ", joined_with_and(counts));
  for (const std::string& note : s.notes) out += wrapped("  note        ", "              ", line_safe(note));
  return out;
}

std::string judgement_text(const CyclingJudgement& j, const std::optional<Life>& life) {
  std::string word = conclude(j.scope, j.required).title;  // a pass never without what it is for
  std::transform(word.begin(), word.end(), word.begin(),
                 [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  std::string out = wrapped(word + ": ", "  ", line_safe(j.headline));
  const auto item = [&](const std::string& text) { out += wrapped("  * ", "    ", line_safe(text)); };
  if (j.supply_v) out += fmt::format("  supply      {:.1f} V, {}\n", *j.supply_v, line_safe(j.supply_from));
  if (j.timing) {
    for (const TimingFinding& finding : j.timing->findings)
      item(fmt::format("{}: {}", to_string(finding.outcome), finding.sentence));
    for (const TimingFaultFinding& fault : j.timing->faults)
      if (fault.sentence != j.headline) item(to_string(fault.fault) + ": " + fault.sentence);
  }
  for (const ChannelFinding& finding : j.findings)
    item(fmt::format("{} ({}): {}", finding.channel, to_string(finding.outcome), finding.sentence));
  if (j.timing && j.timing->duty_at_rated)
    item(fmt::format("Duty at rated conditions: {:.1f} %{}.", 100.0 * *j.timing->duty_at_rated,
                     j.timing->saturated ? " (it would stay on)" : ""));
  if (j.timing && j.timing->operations_per_hour)
    item(fmt::format("{:.0f} switching operations per hour; click rate N = {:.2f} per minute (CISPR 14-1).",
                     *j.timing->operations_per_hour, j.timing->click_rate_per_min.value_or(0.0)));
  if (life) item("Life: " + life_words(*life));
  for (const std::string& remark : j.remarks) item(remark);
  return out;
}

}  // namespace switchwright
