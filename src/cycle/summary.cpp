#include "switchwright/cycle/summary.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace switchwright {

namespace {

/// One quantity, all its statistics.
struct Keeper {
  Moments moments;
  MedianKeeper median;
  BlockSeries blocks;
  void add(double x) {
    moments.add(x);
    median.add(x);
    blocks.add(x);
  }
};

struct Kept {
  double on_s, off_s, period_s, duty;
  double edges_u2;  ///< squared standard uncertainty of one duration: two straddling intervals
  double period_u2;
  bool follows_on;
};

Kept kept_from(const Cycle& cycle) {
  const auto square = [](double x) { return x * x; };
  const double on_u2 = (square(cycle.rise_interval_s) + square(cycle.fall_interval_s)) / 12.0;
  const double off_u2 = (square(cycle.fall_interval_s) + square(cycle.next_rise_interval_s)) / 12.0;
  const double period_u2 = (square(cycle.rise_interval_s) + square(cycle.next_rise_interval_s)) / 12.0;
  return {cycle.on_s, cycle.off_s, cycle.period_s, cycle.duty, std::max(on_u2, off_u2), period_u2, cycle.follows_on};
}

/// The four quantities over one part of the cycles.
struct Part {
  Keeper on_s, off_s, period_s, duty;
  double edges_u2 = 0.0, period_u2 = 0.0;
  std::uint64_t runs = 0;

  void add(const Kept& cycle) {
    if (on_s.moments.count() == 0 || !cycle.follows_on) ++runs;
    on_s.add(cycle.on_s);
    off_s.add(cycle.off_s);
    period_s.add(cycle.period_s);
    duty.add(cycle.duty);
    edges_u2 += cycle.edges_u2;
    period_u2 += cycle.period_u2;
  }

  Figure figure(const Keeper& keeper, double u_sampling, std::optional<double> clock_accuracy, bool quick) const {
    Figure figure;
    const std::uint64_t n = keeper.moments.count();
    if (n == 0) return figure;
    figure.mean = keeper.moments.mean();
    figure.sd = keeper.moments.sd();
    figure.median = keeper.median.median();
    figure.median_error_bound = keeper.median.error_bound();
    figure.min = keeper.moments.min();
    figure.max = keeper.moments.max();
    figure.lag1 = keeper.moments.lag1();
    if (!quick) figure.trend = trend_of(keeper.blocks);
    figure.u_sampling = u_sampling;
    std::vector<Contribution> contributions{{u_sampling}};
    if (figure.sd) {
      const TypeA type_a = type_a_of_mean(n, *figure.sd, figure.lag1);
      figure.u_type_a = type_a.u;
      figure.n_effective = type_a.n_effective;
      contributions.push_back({type_a.u, type_a.nu});
    }
    if (clock_accuracy) {
      figure.u_clock = *clock_accuracy * *figure.mean / std::sqrt(3.0);
      contributions.push_back({*figure.u_clock});
    }
    const double nu = effective_degrees_of_freedom(contributions);
    if (std::isfinite(nu)) figure.nu_eff = nu;
    figure.k = std::isfinite(nu) ? t_factor(coverage_of_U, nu) : 2.0;
    figure.U = *figure.k * combined(contributions);
    return figure;
  }

  CycleFigures figures(double clock_accuracy, bool quick) const {
    CycleFigures figures;
    figures.cycles = on_s.moments.count();
    if (figures.cycles == 0) return figures;
    const auto n = static_cast<double>(figures.cycles);
    const double u_duration_s = figures.u_duration_s = std::sqrt(edges_u2 / n);
    const double u_period_s = std::sqrt(period_u2 / n) * std::sqrt(static_cast<double>(runs)) / n;
    figures.on_s = figure(on_s, u_duration_s, clock_accuracy, quick);
    figures.off_s = figure(off_s, u_duration_s, clock_accuracy, quick);
    figures.period_s = figure(period_s, u_period_s, clock_accuracy, quick);
    figures.duty = figure(duty, u_duration_s / *figures.period_s.mean, std::nullopt, quick);
    return figures;
  }
};

SteadyPart steady_of(const std::vector<Kept>& cycles) {
  std::vector<double> on_s, off_s;
  double u2 = 0.0;
  for (const Kept& cycle : cycles) {
    on_s.push_back(cycle.on_s);
    off_s.push_back(cycle.off_s);
    u2 += cycle.edges_u2;
  }
  return find_steady(on_s, off_s, cycles.empty() ? 0.0 : std::sqrt(u2 / static_cast<double>(cycles.size())));
}

/// Around which value, and how far from it, a steady cycle lies.
struct Band {
  double middle, reach;
  bool contains(double x) const { return std::abs(x - middle) <= reach; }
};

Band band_of(const std::vector<double>& values, double u_duration_s) {
  const std::size_t half = std::max<std::size_t>(2, values.size() / 2);
  std::vector<double> tail(values.end() - static_cast<std::ptrdiff_t>(half), values.end());
  const double middle = quantile_of(tail, 0.5);
  for (double& x : tail) x = std::abs(x - middle);
  const double mad = quantile_of(tail, 0.5);
  return {middle, std::max({3.0 * 1.4826 * mad, 3.0 * u_duration_s, 0.05 * std::abs(middle)})};
}

bool trends(const std::vector<double>& values, std::size_t from, double u_duration_s) {
  BlockSeries blocks;
  for (std::size_t i = from; i < values.size(); ++i) blocks.add(values[i]);
  const auto trend = trend_of(blocks);
  if (!trend || trend->p >= 0.01) return false;
  const double change = std::abs(trend->slope) * static_cast<double>(values.size() - from);
  const double level =
      quantile_of(std::vector<double>(values.begin() + static_cast<std::ptrdiff_t>(from), values.end()), 0.5);
  return change > std::max(0.02 * std::abs(level), u_duration_s);
}

}  // namespace

SteadyPart find_steady(const std::vector<double>& on_s, const std::vector<double>& off_s, double u_duration_s) {
  SteadyPart part;
  const std::size_t n = on_s.size();
  if (n < 4) return part;
  const Band on = band_of(on_s, u_duration_s);
  const Band off = band_of(off_s, u_duration_s);
  const auto agree = [&](std::size_t from) {
    for (std::size_t i = from; i < std::min(from + 4, n); ++i)
      if (!on.contains(on_s[i]) || !off.contains(off_s[i])) return false;
    return true;
  };
  std::size_t from = 0;
  while (from < n && !agree(from)) ++from;
  while (from <= n / 2 && (trends(on_s, from, u_duration_s) || trends(off_s, from, u_duration_s))) {
    part.drifting = from + std::max<std::size_t>(1, n / 10) > n / 2;
    from += std::max<std::size_t>(1, n / 10);
  }
  if (from <= n / 2) part.from = from;
  return part;
}

std::string to_string(ChannelState state) {
  switch (state) {
    case ChannelState::cycling: return "cycling";
    case ChannelState::always_on: return "always-on";
    case ChannelState::always_off: return "always-off";
    case ChannelState::unknown: return "unknown";
  }
  return {};
}

struct Summarizer::Impl {
  double clock_accuracy = 0.0;
  Part all;
  std::vector<Kept> first;  ///< until full
  std::optional<Part> steady;
  SteadyPart steady_part;
  bool full = false;

  static Part part_from(const std::vector<Kept>& cycles, std::size_t from) {
    Part part;
    for (std::size_t i = from; i < cycles.size(); ++i) part.add(cycles[i]);
    return part;
  }
};

Summarizer::Summarizer(const CycleSettings& settings) : impl_(std::make_unique<Impl>()) {
  impl_->clock_accuracy = settings.clock_accuracy;
}
Summarizer::~Summarizer() = default;
Summarizer::Summarizer(Summarizer&&) noexcept = default;
Summarizer& Summarizer::operator=(Summarizer&&) noexcept = default;

void Summarizer::add(const Cycle& cycle) {
  const Kept kept = kept_from(cycle);
  impl_->all.add(kept);
  if (impl_->full) {
    if (impl_->steady) impl_->steady->add(kept);
    return;
  }
  impl_->first.push_back(kept);
  if (impl_->first.size() < MedianKeeper::exact_values) return;
  impl_->full = true;
  impl_->steady_part = steady_of(impl_->first);
  if (impl_->steady_part.from) impl_->steady = Impl::part_from(impl_->first, *impl_->steady_part.from);
  impl_->first = {};
}

void Summarizer::report(CycleSummary& summary, bool quick) const {
  summary.all = impl_->all.figures(impl_->clock_accuracy, quick);
  summary.complete_cycles = summary.all.cycles;
  if (quick) return;
  const SteadyPart part = impl_->full ? impl_->steady_part : steady_of(impl_->first);
  summary.drifting = part.drifting && !part.from;
  if (!part.from) return;
  summary.steady_from_cycle = *part.from + 1;
  summary.steady = impl_->full ? impl_->steady->figures(impl_->clock_accuracy, quick)
                               : Impl::part_from(impl_->first, *part.from).figures(impl_->clock_accuracy, quick);
}

}  // namespace switchwright
