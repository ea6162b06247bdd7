#include "explain/weigh.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
const double sqrt_2pi = std::sqrt(2.0 * std::numbers::pi);
const double ln_ten_decades = std::log(1e10);

/// A value of one unknown that a reading asks for.
struct Wanted {
  double ohm;
  double weight;  ///< 1 / variance
};

/// Groups what the readings ask for, the most precise reading first; at most `most` groups.
std::vector<FitCandidate> clusters(std::vector<Wanted>& wanted, std::size_t most) {
  std::sort(wanted.begin(), wanted.end(),
            [](const Wanted& x, const Wanted& y) { return x.ohm * x.ohm * x.weight > y.ohm * y.ohm * y.weight; });
  std::vector<FitCandidate> found;
  std::vector<char> used(wanted.size(), 0);
  for (std::size_t i = 0; i < wanted.size() && found.size() < most; ++i) {
    if (used[i]) continue;
    double weight = 0.0, sum = 0.0, sharpest = 0.0;
    for (std::size_t j = i; j < wanted.size(); ++j) {
      const double distance = wanted[j].ohm - wanted[i].ohm;
      const double variance = 1.0 / wanted[i].weight + 1.0 / wanted[j].weight;
      if (used[j] || distance * distance > 16.0 * variance) continue;
      used[j] = 1;
      weight += wanted[j].weight;
      sharpest = std::max(sharpest, wanted[j].weight);
      sum += wanted[j].weight * wanted[j].ohm;
    }
    found.push_back({sum / weight, 1.0 / std::sqrt(sharpest)});
  }
  return found;
}

}  // namespace

double Datum::log_likelihood(double predicted) const {
  if (!finite) {
    const double covered =
        predicted == infinity ? 1.0 : 0.5 * std::erfc((beyond - predicted) / (sigma * std::numbers::sqrt2));
    return std::log((1.0 - stray) * (untouched + (1.0 - untouched) * covered) + stray / 2.0);
  }
  const double anywhere = stray / (std::max(std::abs(ohm), sigma) * ln_ten_decades);
  const double z = (ohm - predicted) / sigma;
  const double normal = z * z < 100.0 ? (1.0 - stray) * std::exp(-0.5 * z * z) / (sigma * sqrt_2pi) : 0.0;
  return std::log(normal + anywhere);
}

double Datum::most_log_likelihood(double least, double most) const {
  if (!finite) return log_likelihood(most);
  const double anywhere = stray / (std::max(std::abs(ohm), sigma) * ln_ten_decades);
  if (least == infinity) return std::log(anywhere);
  const double z = std::max({0.0, least - ohm, ohm - most}) / sigma;
  return std::log((1.0 - stray) * std::exp(-0.5 * z * z) / (own_u * sqrt_2pi) + anywhere);
}

double Datum::best() const { return log_likelihood(finite ? ohm : infinity); }

std::vector<Datum> data_from(const std::vector<Finding>& findings, const Predictor& predictor,
                             const MeterDefinition& meter, const Leads& leads, const FaultPriors& priors) {
  std::vector<Datum> data;
  std::vector<const AccuracyRow*> ranges;
  const double doubt = judge_leads(leads, meter).doubt_ohm / std::sqrt(3.0);
  const auto add = [&](const Finding& f, const Indication& i) {
    if (!is_resistance(i.quantity) || i.state == ReadingState::not_a_number) return;
    const bool two_wire = i.quantity != Quantity::resistance_4_wire;
    Datum d;
    d.place = {f.expected.position, f.expected.pair};
    d.position = predictor.position_index(f.expected.position);
    d.a = predictor.node_index(f.expected.pair.first());
    d.b = predictor.node_index(f.expected.pair.second());
    d.stray = priors.stray_reading;
    d.finite = i.state == ReadingState::finite;
    if (d.finite) {
      d.ohm = calibrated(meter, i.quantity, i.value) - (two_wire ? leads.correction_ohm(meter) : 0.0);
      const Uncertainty u = uncertainty_of(meter, i, two_wire ? &leads : nullptr);
      const double lead_doubt = two_wire ? doubt : 0.0;
      d.sigma = std::hypot(std::hypot(u.u, lead_doubt), contact_spread_ohm, 1e-9);
      // What a meter is off by is much the same in one range on one day; how much of it is never quite the same is not
      // specified: a quarter of the variance is taken (common practice, no source).
      constexpr double same_share = 0.75;
      const double common = std::hypot(u.u_accuracy, u.u_calibration, u.u_leads);
      const double shared_u = std::min(std::sqrt(same_share) * common, u.u);
      d.own_u = std::hypot(std::sqrt(std::max(u.u * u.u - shared_u * shared_u, 0.0)), 1e-9);
      d.shared_u = std::hypot(shared_u, lead_doubt);
      const AccuracyRow* row = meter.accuracy_for(i.quantity, i.value, i.resolution);
      const auto known = std::find(ranges.begin(), ranges.end(), row);
      d.range = static_cast<std::size_t>(known - ranges.begin());
      if (known == ranges.end()) ranges.push_back(row);
    } else {
      d.beyond = i.beyond.value_or(meter.top_of_range(i.quantity).value_or(predictor.profile().limits.open_min_ohm));
      d.sigma = std::hypot(uncertainty_of(meter, i.quantity, d.beyond, 0.0).u, 1e-9);
      const bool touched = f.witness == Witness::witnessed || f.witness == Witness::stated;
      d.untouched = touched ? 0.0 : priors.untouched;
    }
    data.push_back(std::move(d));
  };
  for (const Finding& f : findings) {
    if (f.visits.empty()) add(f, f.indication);
    for (const Visit& visit : f.visits) add(f, visit.indication);
  }
  std::stable_sort(data.begin(), data.end(), [](const Datum& x, const Datum& y) { return x.position < y.position; });
  return data;
}

Weigher::Weigher(const std::vector<Datum>& data)
    : data_(&data), best_from_here_(data.size() + 1, 0.0), most_from_here_(data.size() + 1, 0.0) {
  for (std::size_t i = data.size(); i-- > 0;) {
    best_from_here_[i] = best_from_here_[i + 1] + data[i].best();
    most_from_here_[i] = most_from_here_[i + 1] + data[i].most_log_likelihood(0.0, infinity);
  }
}

double Weigher::most_log_evidence(const Predictor& predictor, const Scenario& s, double least) const {
  using Level = Predictor::Level;
  std::vector<std::optional<std::pair<Ohms, Ohms>>> bounds(s.networks.size());
  double sum = 0.0;
  for (std::size_t i = 0; i < data_->size(); ++i) {
    if (sum + most_from_here_[i] < least) return sum + most_from_here_[i];
    const Datum& d = (*data_)[i];
    const std::size_t n = s.network_at[d.position];
    if (!bounds[n]) {
      const FixedNetwork& fixed = s.networks[n];
      bounds[n].emplace(predictor.contacts_only(fixed.sound, Level::least),
                        predictor.contacts_only(fixed.sound, Level::most));
      for (std::size_t u = 0; u < s.unknowns.size(); ++u) {
        if (!fixed.unknown_there[u]) continue;
        bounds[n]->first.add(s.unknowns[u].from, s.unknowns[u].to, s.unknowns[u].least_ohm);
        bounds[n]->second.add(s.unknowns[u].from, s.unknowns[u].to, s.unknowns[u].most_ohm);
      }
    }
    const std::size_t a = s.node[d.a], b = s.node[d.b];
    sum += d.most_log_likelihood(bounds[n]->first(a, b), bounds[n]->second(a, b));
  }
  return sum;
}

double Weigher::log_likelihood(const Scenario& s, const std::vector<Ohms>& networks, double least) const {
  double sum = 0.0;
  for (std::size_t i = 0; i < data_->size(); ++i) {
    const Datum& d = (*data_)[i];
    if (sum + best_from_here_[i] < least) return sum + best_from_here_[i];
    sum += d.log_likelihood(networks[s.network_at[d.position]](s.node[d.a], s.node[d.b]));
  }
  return sum;
}

std::vector<FitCandidate> Weigher::asked_for(const Scenario& s, std::size_t u, const std::vector<Ohms>& without) const {
  const Unknown& unknown = s.unknowns[u];
  std::vector<Wanted> wanted;
  for (const Datum& d : *data_) {
    const std::size_t network = s.network_at[d.position];
    if (!d.finite || !s.networks[network].unknown_there[u]) continue;
    double slope = 1.0;
    const auto ohm = without[network].needed(unknown.from, unknown.to, s.node[d.a], s.node[d.b], d.ohm, slope);
    if (ohm && slope > 0.0) wanted.push_back({*ohm, slope * slope / (d.sigma * d.sigma)});
  }
  std::vector<FitCandidate> tries = clusters(wanted, 3);
  if (tries.empty()) tries.push_back({unknown.nominal_ohm, infinity});
  return tries;
}

double Weigher::improve(const Scenario& s, std::size_t u, Fitted& fit) const {
  const Unknown& unknown = s.unknowns[u];
  const std::vector<Ohms> without = s.solved(fit.values, u);
  double best = -infinity;
  for (const FitCandidate& attempt : asked_for(s, u, without)) {
    const double value = unknown.allowed(attempt.ohm);
    std::vector<Ohms> networks = without;
    for (std::size_t n = 0; n < networks.size(); ++n)
      if (s.networks[n].unknown_there[u]) networks[n].add(unknown.from, unknown.to, value);
    const double log_like = log_likelihood(s, networks, best);
    if (log_like <= best) continue;
    best = log_like;
    fit.values[u] = value;
    fit.sigmas[u] = attempt.sigma;
  }
  return best;
}

Fitted Weigher::located(const Scenario& s) const {
  // Elements and joints have a place of their own to begin from; only what may be of any order of magnitude is sought.
  std::vector<std::size_t> sought;
  Fitted start;
  for (std::size_t u = 0; u < s.unknowns.size(); ++u) {
    const Unknown& unknown = s.unknowns[u];
    start.values.push_back(unknown.allowed(unknown.nominal_ohm));
    if (unknown.kind != Unknown::Kind::joint && !unknown.known()) sought.push_back(u);
  }
  start.sigmas.assign(s.unknowns.size(), infinity);
  if (sought.empty()) return start;
  if (sought.size() == 1) {
    start.log_evidence = improve(s, sought[0], start);
    return start;
  }
  // Where two unknowns share readings (a sum is explained by either), going uphill from one point ends on the
  // wrong hill. So every unknown in turn goes first, with every value that some readings ask for, and the
  // others follow.
  Fitted best;
  const std::size_t count = sought.size();
  for (std::size_t first = 0; first < count; ++first)
    for (const FitCandidate& begin : asked_for(s, sought[first], s.solved(start.values, sought[first]))) {
      Fitted attempt = start;
      attempt.values[sought[first]] = s.unknowns[sought[first]].allowed(begin.ohm);
      for (std::size_t i = 1; i < count; ++i) improve(s, sought[(first + i) % count], attempt);
      for (std::size_t i = 0; i < count; ++i) attempt.log_evidence = improve(s, sought[(first + i) % count], attempt);
      if (best.values.empty() || attempt.log_evidence > best.log_evidence) best = std::move(attempt);
    }
  return best;
}

}  // namespace switchwright
