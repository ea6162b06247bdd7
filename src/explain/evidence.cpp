#include "explain/evidence.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
const double sqrt_2pi = std::sqrt(2.0 * std::numbers::pi);
const double sqrt_12 = std::sqrt(12.0);
const double ln_ten_decades = std::log(1e10);

/// Change from closing to closing of a contact that repeats, and of one that does not (invented, but for the second of a
/// sound contact: its whole range).
constexpr double sound_repeats_within_ohm = 0.002;  // at most 2 % of its limit
constexpr double sound_repeats_within = 0.02;
constexpr double resistive_repeats_within = 0.01;  // of its value
constexpr double resistive_varies_by = 0.25;       // of its value
/// Values further than this many standard uncertainties from what the readings ask for have no share worth adding.
constexpr double reach = 4.0;
constexpr int most_pieces = 4;
/// A piece that the readings do not reach still has the share nearest to them.
constexpr double nearest_share = 1.5;

/// Share of what a bad contact may have that lies between two values: half of them conduct (up to twice the closed limit),
/// half do not; within each half every order of magnitude is as likely as any other (invented).
double bad_contact_share(const Limits& limits, double least, double from, double to) {
  const double middle = std::max(2.0 * limits.closed_max_ohm, 2.0 * least);
  const double most = std::max(limits.open_min_ohm, 2.0 * middle);
  const auto part = [&](double low, double high) {
    const double a = std::clamp(from, low, high), b = std::clamp(to, low, high);
    return 0.5 * std::log(b / a) / std::log(high / low);
  };
  return part(least, middle) + part(middle, most);
}

double log_sum(double x, double y) {
  if (x < y) std::swap(x, y);
  return y == -infinity ? x : x + std::log1p(std::exp(y - x));
}

}  // namespace

Evidence::Evidence(const Predictor& predictor, const std::vector<Datum>& data) : predictor_(&predictor), data_(&data) {
  for (const Datum& d : data)
    if (d.finite) ranges_ = std::max(ranges_, d.range + 1);
}

std::vector<Evidence::Piece> Evidence::pieces_of(const Unknown& u, double ohm, double sigma, Habit habit) const {
  const bool any_magnitude = u.kind == Unknown::Kind::resistive_contact || u.kind == Unknown::Kind::drifted_element;
  if (!any_magnitude || u.known() || sigma == infinity) return {{u.least_ohm, u.most_ohm, 1.0}};
  // A drifted element is on either side of its tolerance; a resistive contact has no such hole.
  std::vector<Interval> sides{{u.least_ohm, u.most_ohm}};
  if (u.not_to_ohm > u.not_from_ohm) sides = {{u.least_ohm, u.not_from_ohm}, {u.not_to_ohm, u.most_ohm}};
  double whole = 0.0;
  for (const Interval& side : sides) whole += std::log(side.max / side.min);
  if (habit == Habit::varies && u.kind == Unknown::Kind::resistive_contact)
    sigma = std::hypot(sigma, resistive_varies_by * ohm);
  std::vector<Piece> pieces;
  for (const Interval& side : sides) {
    double from = std::clamp(ohm - reach * sigma, side.min, side.max);
    double to = std::clamp(ohm + reach * sigma, side.min, side.max);
    const bool reached = to > from * (1.0 + 1e-12);
    if (!reached && sides.size() > 1 && std::abs(from - ohm) > 2.0 * reach * sigma) continue;
    if (!reached && from == side.min) to = std::min(side.max, nearest_share * from);
    if (!reached && from == side.max) from = std::max(side.min, to / nearest_share);
    const double all = std::log(to / from);
    const int count = std::clamp(static_cast<int>(std::ceil(all / std::numbers::ln2)), 1, most_pieces);
    for (int i = 0; i < count; ++i) {
      const double low = from * std::exp(all * i / count), high = from * std::exp(all * (i + 1) / count);
      const double share = u.kind == Unknown::Kind::resistive_contact
                               ? bad_contact_share(predictor_->profile().limits, u.least_ohm, low, high)
                               : all / count / whole;
      pieces.push_back({low, high, share});
    }
  }
  if (pieces.empty()) pieces.push_back({u.least_ohm, u.most_ohm, 1.0});
  return pieces;
}

/// One linearisation: where it is taken, what is known before the readings.
struct Evidence::Pass {
  struct Value {
    std::size_t from, to;
    double at;       ///< where the network is solved, ohm
    double scatter;  ///< standard deviation from closing to closing, ohm
    Piece piece;
  };
  std::vector<Value> values;  ///< unknowns, then sound contacts

  bool there(const FixedNetwork& network, std::size_t value, std::size_t unknowns) const {
    return value < unknowns ? network.unknown_there[value] != 0 : network.sound[value - unknowns] == '1';
  }
};

Fitted Evidence::within(const Scenario& s, const std::vector<Piece>& pieces, const Fitted& start, Habit habit) const {
  const std::size_t unknowns = s.unknowns.size();
  const auto& contacts = predictor_->contacts();
  const bool repeats = habit == Habit::repeats;
  const auto sound_scatter = [&](double most) {
    return repeats ? std::min(sound_repeats_within * most, sound_repeats_within_ohm) : most / sqrt_12;
  };
  Pass pass;
  double log_share = 0.0;
  for (std::size_t u = 0; u < unknowns; ++u) {
    const Unknown& unknown = s.unknowns[u];
    const Piece& piece = pieces[u];
    const double at = std::clamp(start.values[u], std::max(piece.least, 1e-3 * piece.most), piece.most);
    double scatter = 0.0;
    if (unknown.kind == Unknown::Kind::joint) scatter = sound_scatter(unknown.most_ohm);
    if (unknown.kind == Unknown::Kind::resistive_contact)
      scatter = (repeats ? resistive_repeats_within : resistive_varies_by) * at;
    pass.values.push_back({unknown.from, unknown.to, at, scatter, piece});
    log_share += std::log(std::max(piece.share, 1e-300));
  }
  for (const auto& contact : contacts)
    pass.values.push_back({contact.from,
                           contact.to,
                           usual_ohm(contact.most_ohm),
                           sound_scatter(contact.most_ohm),
                           {0.0, contact.most_ohm, 1.0}});
  const std::size_t resistors = pass.values.size();

  Fitted result;
  std::vector<Belief::Slope> slopes;
  for (int round = 0; round < 4; ++round) {
    std::vector<Ohms> networks(s.networks.size(), Ohms(predictor_->nodes()));
    for (std::size_t n = 0; n < networks.size(); ++n)
      for (std::size_t v = 0; v < resistors; ++v)
        if (pass.there(s.networks[n], v, unknowns))
          networks[n].add(pass.values[v].from, pass.values[v].to, pass.values[v].at);

    Belief belief(resistors + ranges_);
    for (std::size_t v = 0; v < resistors; ++v) {
      const Piece& piece = pass.values[v].piece;
      const double width = piece.most - piece.least;
      belief.begin(v, piece.least + width / 2.0, width * width / 12.0);
    }
    for (std::size_t r = 0; r < ranges_; ++r) belief.begin(resistors + r, 0.0, 1.0);

    double sum = log_share;
    bool bends = false;
    result.strays.clear();
    for (std::size_t i = 0; i < data_->size(); ++i) {
      const Datum& d = (*data_)[i];
      const std::size_t n = s.network_at[d.position], a = s.node[d.a], b = s.node[d.b];
      const double here = networks[n](a, b);
      if (here == infinity) {
        sum += d.log_likelihood(infinity);
        if (d.finite) result.strays.push_back(i);
        continue;
      }
      slopes.clear();
      double predicted = here, own = d.finite ? d.own_u * d.own_u : d.sigma * d.sigma;
      for (std::size_t v = 0; v < resistors; ++v) {
        const Pass::Value& value = pass.values[v];
        if (!pass.there(s.networks[n], v, unknowns)) continue;
        const double by = networks[n].slope(value.from, value.to, value.at, a, b);
        const double width = by * (value.piece.most - value.piece.least);
        if (width < 1e-3 * d.own_u && by * value.scatter < 1e-3 * d.own_u) continue;
        slopes.push_back({v, by});
        predicted += by * (belief.mean(v) - value.at);
        own += by * by * value.scatter * value.scatter;
        bends = bends || (by < 0.999 && width > 0.5 * d.own_u);
      }
      if (!d.finite) {
        const double u = std::sqrt(own + belief.variance_of(slopes));
        const double covered = 0.5 * std::erfc((d.beyond - predicted) / (u * std::numbers::sqrt2));
        if ((1.0 - d.stray) * covered < d.stray / 2.0) result.strays.push_back(i);
        sum += std::log((1.0 - d.stray) * (d.untouched + (1.0 - d.untouched) * covered) + d.stray / 2.0);
        continue;
      }
      slopes.push_back({resistors + d.range, d.shared_u});
      const double innovation = d.ohm - predicted - d.shared_u * belief.mean(resistors + d.range);
      const double variance = own + belief.variance_of(slopes);
      const double normal =
          (1.0 - d.stray) * std::exp(-0.5 * innovation * innovation / variance) / (std::sqrt(variance) * sqrt_2pi);
      const double anywhere = d.stray / (std::max(std::abs(d.ohm), d.sigma) * ln_ten_decades);
      sum += std::log(normal + anywhere);
      if (normal > anywhere)
        belief.absorb(slopes, innovation, own);
      else
        result.strays.push_back(i);
    }
    result.values.assign(unknowns, 0.0);
    result.sigmas.assign(unknowns, infinity);
    for (std::size_t v = 0; v < resistors; ++v) {
      const Piece& piece = pass.values[v].piece;
      const bool narrowed = belief.narrowed(v);
      sum += belief.confine(v, piece.least, piece.most);
      if (v < unknowns) {
        result.values[v] = narrowed ? belief.mean(v) : start.values[v];
        if (narrowed) result.sigmas[v] = std::sqrt(std::max(belief.variance(v), 0.0));
      }
      if (narrowed)
        pass.values[v].at = std::clamp(belief.mean(v), std::max(piece.least, 1e-3 * piece.most), piece.most);
    }
    result.contacts.clear();
    for (std::size_t v = unknowns; v < resistors; ++v) result.contacts.push_back(pass.values[v].at);
    result.log_evidence = sum;
    if (!bends) break;
  }
  return result;
}

std::vector<Ohms> Evidence::networks(const Scenario& s, const Fitted& fitted) const {
  std::vector<Ohms> all(s.networks.size(), Ohms(predictor_->nodes()));
  const auto& contacts = predictor_->contacts();
  for (std::size_t n = 0; n < all.size(); ++n) {
    for (std::size_t c = 0; c < contacts.size(); ++c)
      if (s.networks[n].sound[c] == '1') all[n].add(contacts[c].from, contacts[c].to, fitted.contacts[c]);
    for (std::size_t u = 0; u < s.unknowns.size(); ++u)
      if (s.networks[n].unknown_there[u]) all[n].add(s.unknowns[u].from, s.unknowns[u].to, fitted.values[u]);
  }
  return all;
}

Fitted Evidence::of(const Scenario& s, const Fitted& start) const {
  Fitted total;
  double best = -infinity;
  for (Habit habit : {Habit::repeats, Habit::varies}) {
    std::vector<std::vector<Piece>> choices;
    for (std::size_t u = 0; u < s.unknowns.size(); ++u)
      choices.push_back(pieces_of(s.unknowns[u], start.values[u], start.sigmas[u], habit));
    std::vector<std::size_t> chosen(choices.size(), 0);
    for (bool more = true; more;) {
      std::vector<Piece> pieces;
      for (std::size_t u = 0; u < choices.size(); ++u) pieces.push_back(choices[u][chosen[u]]);
      const Fitted part = within(s, pieces, start, habit);
      total.log_evidence = log_sum(total.log_evidence, part.log_evidence - std::numbers::ln2);
      if (part.log_evidence > best || total.values.empty()) {
        best = part.log_evidence;
        total.values = part.values;
        total.sigmas = part.sigmas;
        total.contacts = part.contacts;
        total.strays = part.strays;
      }
      more = false;
      for (std::size_t u = 0; u < choices.size() && !more; ++u) {
        if (++chosen[u] < choices[u].size())
          more = true;
        else
          chosen[u] = 0;
      }
    }
  }
  return total;
}

}  // namespace switchwright
