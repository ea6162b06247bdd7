// The resistors. Readings that no network of contacts and resistors so far gives get a resistor of their own, the finest
// position and the smallest reading first; all resistors are then fitted to all readings together, and those that are not
// needed are taken out again. A resistor that contacts bridge at every position cannot be seen.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "learn/learn_table.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/network.hpp"

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

struct Part {
  std::size_t a, b;
  double ohm;
};

struct Observed {
  std::size_t position, a, b;
  double ohm;
  double allowed_ohm;  ///< what the network may differ by: the meter, and the contacts on the way
};

class Fitter {
 public:
  Fitter(const LearnTable& table, const LearnSubject& subject) : table_(table) {
    for (std::size_t p = 0; p < table.positions.size(); ++p)
      for (std::size_t a = 0; a < table.nodes.size(); ++a)
        for (std::size_t b = a + 1; b < table.nodes.size(); ++b)
          if (const auto& cell = table.at(p, a, b); cell.ohm && !table.joined(p, a, b))
            observed_.push_back(
                {p, a, b, *cell.ohm, cell.U_ohm + 3.0 * subject.limits.sound_max_ohm + 1e-9 * *cell.ohm});
    std::stable_sort(observed_.begin(), observed_.end(), [&](const Observed& x, const Observed& y) {
      const auto groups = std::pair{table.groups(x.position), table.groups(y.position)};
      return groups.first != groups.second ? groups.first > groups.second : x.ohm < y.ohm;
    });
  }

  const std::vector<Observed>& observed() const { return observed_; }

  std::vector<double> predict(const std::vector<Part>& parts) const {
    std::map<std::size_t, Network> networks;
    std::vector<double> ohm;
    for (const Observed& o : observed_) {
      auto found = networks.find(o.position);
      if (found == networks.end()) found = networks.emplace(o.position, network(parts, o.position)).first;
      ohm.push_back(found->second.resistance_ohm(table_.nodes[o.a], table_.nodes[o.b]));
    }
    return ohm;
  }

  /// Deviation of each reading from the network in units of what is allowed.
  std::vector<double> deviations(const std::vector<Part>& parts) const {
    std::vector<double> all = predict(parts);
    for (std::size_t i = 0; i < all.size(); ++i)
      all[i] = std::isfinite(all[i]) ? (all[i] - observed_[i].ohm) / observed_[i].allowed_ohm : infinity;
    return all;
  }
  bool explains(const std::vector<Part>& parts) const {
    const auto all = deviations(parts);
    return std::all_of(all.begin(), all.end(), [](double d) { return std::abs(d) <= 1.0; });
  }

  /// Least squares in the logarithms of the resistances (Gauss-Newton with a halved step where it gets worse). Readings
  /// that nothing connects yet are left aside.
  std::vector<Part> fitted(std::vector<Part> parts) const {
    if (parts.empty()) return parts;
    double cost = cost_of(parts);
    for (int round = 0; round < 30; ++round) {
      const auto base = deviations(parts);
      Eigen::MatrixXd slope(base.size(), parts.size());
      Eigen::VectorXd rest(base.size());
      constexpr double step = 1e-4;
      for (std::size_t k = 0; k < parts.size(); ++k) {
        auto nudged = parts;
        nudged[k].ohm *= std::exp(step);
        const auto moved = deviations(nudged);
        for (std::size_t i = 0; i < base.size(); ++i)
          slope(index(i), index(k)) = std::isfinite(base[i]) ? (moved[i] - base[i]) / step : 0.0;
      }
      for (std::size_t i = 0; i < base.size(); ++i) rest(index(i)) = std::isfinite(base[i]) ? base[i] : 0.0;
      Eigen::MatrixXd normal = slope.transpose() * slope;
      normal.diagonal().array() += 1e-9 * (1.0 + normal.diagonal().array().abs());
      const Eigen::VectorXd move = normal.ldlt().solve(-slope.transpose() * rest);
      bool better = false;
      for (double share = 1.0; share > 1e-3 && !better; share /= 2.0) {
        auto trial = parts;
        for (std::size_t k = 0; k < parts.size(); ++k)
          trial[k].ohm *= std::exp(std::clamp(share * move(index(k)), -3.0, 3.0));
        const double now = cost_of(trial);
        if (!(now < cost)) continue;
        better = cost - now > 1e-10 * cost;
        parts = std::move(trial);
        cost = now;
        break;
      }
      if (!better) break;
    }
    return parts;
  }

  double cost_of(const std::vector<Part>& parts) const {
    double sum = 0.0;
    for (const double d : deviations(parts)) sum += std::isfinite(d) ? d * d : 1e6;
    return sum;
  }

  /// A resistor from a to b joins nothing that reads open: everywhere the two are joined or have a finite reading.
  bool may_be(std::size_t a, std::size_t b) const {
    for (std::size_t p = 0; p < table_.positions.size(); ++p)
      if (!table_.joined(p, a, b) && !table_.at(p, a, b).ohm) return false;
    return true;
  }

  /// Terminals that a resistor seen between a and b at a position may really end at.
  std::vector<Part> places_for(const Observed& o) const {
    std::vector<Part> places;
    for (std::size_t a = 0; a < table_.nodes.size(); ++a)
      for (std::size_t b = 0; b < table_.nodes.size(); ++b)
        if (table_.joined(o.position, o.a, a) && table_.joined(o.position, o.b, b) && may_be(a, b))
          places.push_back({std::min(a, b), std::max(a, b), o.ohm});
    return places;
  }

 private:
  static Eigen::Index index(std::size_t i) { return static_cast<Eigen::Index>(i); }

  Network network(const std::vector<Part>& parts, std::size_t position) const {
    std::vector<Resistor> resistors;
    for (std::size_t i = 0; i < table_.nodes.size(); ++i)
      if (table_.group_of[position][i] != i)
        resistors.push_back({"", table_.nodes[i], table_.nodes[table_.group_of[position][i]], 0.0});
    for (const Part& part : parts) resistors.push_back({"", table_.nodes[part.a], table_.nodes[part.b], part.ohm});
    return Network{table_.nodes, resistors};
  }

  const LearnTable& table_;
  std::vector<Observed> observed_;
};

/// The first reading, in order, that reads less than the network gives: something is missing there.
std::optional<std::size_t> missing_at(const std::vector<double>& deviations, const std::vector<bool>& given_up) {
  for (std::size_t i = 0; i < deviations.size(); ++i)
    if (deviations[i] > 1.0 && !given_up[i]) return i;
  return std::nullopt;
}

bool among(const std::vector<Part>& parts, const Part& part) {
  return std::any_of(parts.begin(), parts.end(), [&](const Part& p) { return p.a == part.a && p.b == part.b; });
}

struct Choice {
  Part part;
  std::vector<Part> as_well;  ///< other places that fit the readings no worse
};

std::optional<Choice> best_place(const Fitter& fitter, const std::vector<Part>& parts, const Observed& reading) {
  std::optional<Choice> best;
  double least = infinity;
  for (const Part& place : fitter.places_for(reading)) {
    if (among(parts, place)) continue;
    auto with = parts;
    with.push_back(place);
    const double cost = fitter.cost_of(fitter.fitted(with));
    if (best && std::abs(cost - least) <= 1e-6 * (1.0 + least)) {
      best->as_well.push_back(place);
    } else if (cost < least) {
      best = Choice{place, {}};
      least = cost;
    }
  }
  return best;
}

}  // namespace

void learn_elements(const LearnTable& table, const LearnSubject& subject, Learned& learned) {
  const Fitter fitter{table, subject};
  std::vector<Part> parts;
  std::vector<Choice> choices;
  std::vector<bool> given_up(fitter.observed().size(), false);
  const std::size_t most = table.nodes.size() * (table.nodes.size() - 1) / 2;
  while (parts.size() < most) {
    const auto missing = missing_at(fitter.deviations(parts), given_up);
    if (!missing) break;
    const auto choice = best_place(fitter, parts, fitter.observed()[*missing]);
    if (!choice) {
      given_up[*missing] = true;
      continue;
    }
    parts.push_back(choice->part);
    choices.push_back(*choice);
    parts = fitter.fitted(parts);
  }
  // Those that the others make unnecessary go, the largest first.
  if (fitter.explains(parts))
    for (bool again = true; again;) {
      again = false;
      std::vector<std::size_t> order(parts.size());
      for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
      std::sort(order.begin(), order.end(), [&](std::size_t x, std::size_t y) { return parts[x].ohm > parts[y].ohm; });
      for (const std::size_t i : order) {
        auto without = parts;
        without.erase(without.begin() + static_cast<std::ptrdiff_t>(i));
        without = fitter.fitted(without);
        if (!fitter.explains(without)) continue;
        parts = without;
        choices.erase(choices.begin() + static_cast<std::ptrdiff_t>(i));
        again = true;
        break;
      }
    }

  const auto name = [&](const Part& p) { return table.nodes[p.a] + "-" + table.nodes[p.b]; };
  for (std::size_t i = 0; i < parts.size(); ++i) {
    Element element;
    element.id = "R" + std::to_string(i + 1);
    element.between = {table.nodes[parts[i].a], table.nodes[parts[i].b]};
    element.nominal_ohm = parts[i].ohm;
    element.tolerance_pct = 10.0;
    std::vector<std::string> instead;
    for (const Part& other : choices[i].as_well)
      if (!among(parts, other)) instead.push_back(name(other));
    if (!instead.empty())
      learned.ambiguities.push_back(fmt::format("The element {} between {} may as well lie between {}.", element.id,
                                                name(parts[i]), fmt::join(instead, " or ")));
    learned.elements.push_back(std::move(element));
  }
  for (std::size_t i = 0; i < parts.size(); ++i)
    for (std::size_t j = i + 1; j < parts.size(); ++j)
      for (std::size_t k = j + 1; k < parts.size(); ++k) {
        std::map<std::size_t, int> ends;
        for (const std::size_t x : {i, j, k}) ++ends[parts[x].a], ++ends[parts[x].b];
        if (ends.size() == 3)
          learned.ambiguities.push_back(fmt::format(
              "R{}, R{} and R{} form a triangle: a star with an inner point reads the same.", i + 1, j + 1, k + 1));
      }
  const auto deviations = fitter.deviations(parts);
  for (std::size_t i = 0; i < deviations.size(); ++i) {
    const Observed& o = fitter.observed()[i];
    const auto& cell = table.at(o.position, o.a, o.b);
    if (std::abs(deviations[i]) > 1.0)
      learned.unexplained.push_back(
          {table.positions[o.position], {table.nodes[o.a], table.nodes[o.b]}, cell.ohm, cell.U_ohm});
    else
      for (Element& element : learned.elements)  // the band must hold what this meter may have misread
        if (element.between == Pair{table.nodes[o.a], table.nodes[o.b]})
          element.tolerance_pct =
              std::max(element.tolerance_pct, std::ceil(100.0 * cell.U_ohm / element.nominal_ohm) + 5.0);
  }
  for (Element& element : learned.elements) element.tolerance_pct = std::min(element.tolerance_pct, 90.0);
}

}  // namespace switchwright
