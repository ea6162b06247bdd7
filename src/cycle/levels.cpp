#include "switchwright/cycle/levels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <limits>
#include <span>
#include <string>

namespace switchwright {

namespace {

using Bin = AdaptiveHistogram::Bin;

/// A bin with the weight that counts in this attempt.
struct Mass {
  double value;
  double weight;
};
using Masses = std::span<const Mass>;

constexpr double least_settled = 0.20;                  // of all samples: less is noise that happens to stay
constexpr double mode_window = 0.02;                    // of the step
constexpr double valley_from = 0.30, valley_to = 0.70;  // of the distance of the group means
constexpr double valley_width = 0.30;       // of the distance of the group means, around the middle of the gap
constexpr double valley_most = 0.25;        // of the smaller group
constexpr double inrush_most = 0.02;        // of everything
constexpr double inrush_most_of_on = 0.05;  // of the on level beneath
constexpr double inrush_inner_step = 0.05;  // of the outer step
constexpr double second_from = 0.30, second_to = 0.70;
constexpr double second_least = 0.05;  // of the high group
constexpr double least_digits = 4.0, clean_digits = 2.0;
constexpr std::size_t few_values = 8;
constexpr double few_samples = 6.0;
constexpr double noise_step = 4.0;  // times the mean change within plateaus
constexpr double dead_two = 0.4;    // of the dead limit: a small load that clearly cycles is not dead

double weight_of(Masses masses) {
  double sum = 0.0;
  for (const Mass& m : masses) sum += m.weight;
  return sum;
}

double mean_of(Masses masses) {
  double sum = 0.0, weight = 0.0;
  const double origin = masses.empty() ? 0.0 : masses.front().value;
  for (const Mass& m : masses) {
    sum += m.weight * (m.value - origin);
    weight += m.weight;
  }
  return weight > 0.0 ? origin + sum / weight : origin;
}

/// Mean of the masses in the fullest window of the given width.
double mode_of(Masses masses, double width) {
  double inside = 0.0, best = -1.0;
  std::size_t from = 0, best_from = 0, best_to = 0;
  for (std::size_t to = 0; to < masses.size(); ++to) {
    inside += masses[to].weight;
    while (masses[to].value - masses[from].value > width) inside -= masses[from++].weight;
    if (inside > best * (1.0 + 1e-12)) {
      best = inside;
      best_from = from;
      best_to = to;
    }
  }
  return mean_of(masses.subspan(best_from, best_to - best_from + 1));
}

/// Index of the first mass of the high group by the greatest variance between the groups; 0 when there is but
/// one.
std::size_t split_of(Masses masses) {
  if (masses.size() < 2) return 0;
  const double total = weight_of(masses);
  const double origin = masses.front().value;
  const double total_sum = (mean_of(masses) - origin) * total;
  double weight = 0.0, sum = 0.0, best = -1.0;
  std::size_t split = 0;
  for (std::size_t i = 0; i + 1 < masses.size(); ++i) {
    weight += masses[i].weight;
    sum += masses[i].weight * (masses[i].value - origin);
    const double rest = total - weight;
    if (weight <= 0.0 || rest <= 0.0) continue;
    const double distance = (total_sum - sum) / rest - sum / weight;
    const double between = weight * rest * distance * distance;
    if (between > best) {
      best = between;
      split = i + 1;
    }
  }
  return split;
}

struct Groups {
  Masses low, high;
  double low_mean = 0.0, high_mean = 0.0;
  bool valley = false;
  bool found() const { return !low.empty() && !high.empty(); }
};

Groups groups_of(Masses masses) {
  Groups groups;
  const std::size_t split = split_of(masses);
  if (split == 0) return groups;
  groups.low = masses.first(split);
  groups.high = masses.subspan(split);
  groups.low_mean = mean_of(groups.low);
  groups.high_mean = mean_of(groups.high);
  // The emptiest place between the means, not the split itself: stray intermediate samples move the split
  // about.
  const double distance = groups.high_mean - groups.low_mean;
  const double half = 0.5 * valley_width * distance;
  double emptiest = weight_of(masses);
  for (int step = 0; step <= 16; ++step) {
    const double middle = groups.low_mean + distance * (valley_from + (valley_to - valley_from) * step / 16.0);
    double inside = 0.0;
    for (const Mass& m : masses)
      if (std::abs(m.value - middle) < half) inside += m.weight;
    emptiest = std::min(emptiest, inside);
  }
  groups.valley = emptiest <= valley_most * std::min(weight_of(groups.low), weight_of(groups.high));
  return groups;
}

/// Sets inrush plateaus aside: see the header, step 2.
Groups groups_without_inrush(Masses masses) {
  Groups outer = groups_of(masses);
  while (outer.found()) {
    const double high_weight = weight_of(outer.high);
    if (high_weight > inrush_most * weight_of(masses)) break;
    const Groups inner = groups_of(outer.low);
    if (!inner.found() || !inner.valley || high_weight > inrush_most_of_on * weight_of(inner.high)) break;
    if (inner.high_mean - inner.low_mean < inrush_inner_step * (outer.high_mean - outer.low_mean)) break;
    masses = outer.low;
    outer = inner;
  }
  return outer;
}

/// The lowest on-level when the samples between 30 % and 70 % of the step gather at one; else `high`.
double lowest_high_of(Masses masses, double low, double high, double high_weight) {
  const double step = high - low;
  const auto begin = std::lower_bound(masses.begin(), masses.end(), low + second_from * step,
                                      [](const Mass& m, double v) { return m.value < v; });
  const auto end = std::upper_bound(begin, masses.end(), low + second_to * step,
                                    [](double v, const Mass& m) { return v < m.value; });
  const Masses between(begin, end);
  const double weight = weight_of(between);
  if (weight < second_least * high_weight || weight <= 0.0) return high;
  const double level = mode_of(between, 2.0 * mode_window * step);
  double gathered = 0.0;
  for (const Mass& m : between)
    if (std::abs(m.value - level) <= 0.05 * step) gathered += m.weight;
  return gathered >= 0.5 * weight ? level : high;
}

/// Which samples count in an attempt.
enum class Count { settled, steady, all };

std::vector<Mass> masses_of(const std::vector<Bin>& bins, Count what) {
  std::vector<Mass> masses;
  for (const Bin& bin : bins) {
    const auto weight = static_cast<double>(what == Count::settled  ? bin.settled
                                            : what == Count::steady ? bin.steady
                                                                    : bin.count);
    if (weight > 0.0) masses.push_back({bin.value, weight});
  }
  return masses;
}

/// The rule that makes two levels one, or an empty text.
std::string why_one_of(double low, double high, const Groups& groups, std::size_t distinct, double smallest_change,
                       const CycleSettings& settings) {
  const double step = high - low;
  const double larger = std::max(std::abs(low), std::abs(high));
  if (step <= 0.0 || step < settings.min_step_fraction * larger)
    return fmt::format("the values vary by less than {:g} % of the level", 100.0 * settings.min_step_fraction);
  if (settings.dead_below && larger < dead_two * *settings.dead_below)
    return fmt::format("every lasting value is below {:g}, which counts as dead", dead_two * *settings.dead_below);
  const bool logic = distinct == 2 && low == 0.0 && high == 1.0;
  // A handful of distinct values may be a clean drawing of levels: their differences are steps, not digits.
  const bool digits_show = settings.resolution <= 0.0 && distinct > few_values;
  const double digit = digits_show ? smallest_change : settings.resolution;
  if (!logic && digit > 0.0) {
    double between = 0.0;
    for (Masses side : {groups.low, groups.high})
      for (const Mass& m : side)
        if (m.value > low + 0.5 * digit && m.value < high - 0.5 * digit) between += m.weight;
    const bool empty_between = between < 0.05 * std::min(weight_of(groups.low), weight_of(groups.high));
    const double least = empty_between ? clean_digits : least_digits;
    if (step < least * digit * (1.0 - 1e-9)) return "the values vary by a few digits of the meter only";
  }
  if (!groups.valley) return "the values do not gather at two levels";
  return {};
}

StateLevels one_level(Masses masses, const CycleSettings& settings, std::string why) {
  StateLevels levels;
  levels.count = LevelCount::one;
  const double spread = masses.back().value - masses.front().value;
  levels.low = levels.high = levels.lowest_high = mode_of(masses, 5.0 * mode_window * spread);
  const double limit = settings.dead_below.value_or(CycleSettings::default_dead_below);
  levels.dead = std::abs(levels.low) < limit;
  levels.why_one = std::move(why);
  return levels;
}

struct Attempt {
  StateLevels levels;
  double high_weight = 0.0;  ///< samples of the high group that counted
};

Attempt attempt(const std::vector<Bin>& bins, Count what, double smallest_change, const CycleSettings& settings) {
  const std::vector<Mass> owned = masses_of(bins, what);
  const Masses masses(owned);
  if (masses.empty()) return {};
  Groups groups = groups_without_inrush(masses);
  if (!groups.found()) return {one_level(masses, settings, {})};
  const double rough_step = groups.high_mean - groups.low_mean;
  StateLevels levels;
  levels.count = LevelCount::two;
  levels.high = mode_of(groups.high, mode_window * rough_step);
  levels.lowest_high = levels.high;
  const double high_weight = weight_of(groups.high);
  // What looks low beside the fullest on-level may itself be off and a lower on-level.
  for (;;) {
    const Groups inner = groups_of(groups.low);
    if (!inner.found() || !inner.valley || weight_of(inner.high) < second_least * high_weight) break;
    if (inner.high_mean - inner.low_mean < second_from * (levels.high - inner.low_mean)) break;
    levels.lowest_high = mode_of(inner.high, mode_window * rough_step);
    groups = inner;
  }
  levels.low = mode_of(groups.low, mode_window * rough_step);
  std::string why = why_one_of(levels.low, levels.lowest_high, groups, bins.size(), smallest_change, settings);
  if (!why.empty()) return {one_level(masses, settings, std::move(why))};
  if (levels.lowest_high == levels.high)
    levels.lowest_high = lowest_high_of(masses, levels.low, levels.high, high_weight);
  return {levels, high_weight};
}

/// A contact on ohms: finite when closed, beyond the range when open.
StateLevels beside_over_range(const std::vector<Bin>& bins, const CycleSettings& settings) {
  StateLevels levels;
  levels.count = LevelCount::two;
  levels.high_is_over_range = true;
  const std::vector<Mass> masses = masses_of(bins, Count::all);
  const double spread = masses.back().value - masses.front().value;
  levels.low = mode_of(masses, mode_window * spread);
  // Every finite value is low: the reference lies above them all.
  const double top = masses.back().value;
  levels.high = levels.lowest_high =
      top + std::max({10.0 * std::abs(top), 10.0 * settings.resolution, 4.0 * (top - levels.low), 1e-9});
  return levels;
}

}  // namespace

StateLevels find_levels(const std::vector<Bin>& bins, const Changes& changes, std::uint64_t over_range_held,
                        const CycleSettings& settings) {
  const double smallest_change = changes.smallest;
  if (settings.low_level && settings.high_level) {
    StateLevels levels;
    levels.count = LevelCount::two;
    levels.low = *settings.low_level;
    levels.high = levels.lowest_high = *settings.high_level;
    return levels;
  }
  if (bins.empty()) {
    StateLevels levels;
    if (over_range_held > 0) {
      levels.count = LevelCount::one;
      levels.high_is_over_range = true;
    }
    return levels;
  }
  const StateLevels settled = attempt(bins, Count::settled, smallest_change, settings).levels;
  const Attempt steady_attempt = attempt(bins, Count::steady, smallest_change, settings);
  const StateLevels& steady = steady_attempt.levels;
  double settled_weight = 0.0, weight = 0.0;
  for (const Bin& bin : bins) {
    settled_weight += static_cast<double>(bin.settled);
    weight += static_cast<double>(bin.count);
  }
  // Pulses too short to settle, far above what has: not just a stray pair of samples.
  const bool steady_two = steady.count == LevelCount::two;
  const bool far_above =
      steady_two && steady_attempt.high_weight >= few_samples && settled.step() < inrush_inner_step * steady.step();
  // Two plateaus of one noisy level look like two levels when nothing else has settled.
  const bool within_noise =
      steady_two && settled.step() < noise_step * changes.within_plateaus && settled.step() < 0.5 * steady.step();
  if (settled.count == LevelCount::two && settled_weight >= least_settled * weight && !far_above && !within_noise)
    return settled;
  if (steady_two) return steady;
  StateLevels all = attempt(bins, Count::all, smallest_change, settings).levels;
  if (all.count == LevelCount::two) {
    all.single_sample_pulses = true;
    return all;
  }
  if (over_range_held >= 2) return beside_over_range(bins, settings);
  return settled.count == LevelCount::one ? settled : steady.count == LevelCount::one ? steady : all;
}

std::optional<double> dead_below_for(std::string_view column_name) {
  struct Row {
    std::string_view unit;
    double limit;
  };
  // Units only: a column called "power" may be in watt or in kilowatt.
  static constexpr std::array rows{Row{"v", 2.0},     Row{"volt", 2.0},    Row{"volts", 2.0}, Row{"mv", 2000.0},
                                   Row{"kv", 0.002},  Row{"w", 5.0},       Row{"watt", 5.0},  Row{"watts", 5.0},
                                   Row{"va", 5.0},    Row{"kw", 0.005},    Row{"a", 0.02},    Row{"amp", 0.02},
                                   Row{"amps", 0.02}, Row{"ampere", 0.02}, Row{"ma", 20.0}};
  // Words of the name, the last one that is a unit counts: "power (kW)".
  std::optional<double> limit;
  std::string word;
  for (std::size_t i = 0; i <= column_name.size(); ++i) {
    const auto c = i < column_name.size() ? static_cast<unsigned char>(column_name[i]) : 0u;
    if (std::isalpha(static_cast<int>(c)) != 0) {
      word += static_cast<char>(std::tolower(static_cast<int>(c)));
      continue;
    }
    for (const Row& row : rows)
      if (word == row.unit) limit = row.limit;
    word.clear();
  }
  return limit;
}

}  // namespace switchwright
