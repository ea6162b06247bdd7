// Nodal analysis that keeps every digit.
//
// A contact of milliohms beside an open contact of gigaohms puts conductances twelve orders apart into one
// admittance matrix. Ordinary factorisation (LU, Cholesky) subtracts numbers that are almost equal and loses
// the small currents: with doubles about four digits are left. A network of resistors allows elimination
// without one subtraction: taking out a node replaces its star by the equivalent mesh, g_ij += g_ik g_kj /
// sum(g_k). It is Gaussian elimination of the admittance matrix with each diagonal written as the sum of its
// row (Grassmann, Taksar and Heyman 1985, for Markov chains). On the way back each node that was taken out is
// put in again: it is joined to the rest by shares p_i = g_ki / sum(g_k), and
//   R_kj = 1/sum(g_k) + sum_i p_i R_ij - sum_{i<l} p_i p_l R_il.
// The one difference here is harmless: R_ij <= 1/g_ki + R_kj and R_kj >= 1/sum(g_k), so what is subtracted is
// at most (degree + 1) times the result. One elimination, O(nodes^3), gives all pairs.
#include "switchwright/profile/network.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <stdexcept>
#include <vector>

namespace switchwright {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double least_ohm = 1e-300;  // below this a conductance would overflow; it joins its nodes

/// Which nodes belong together.
class Groups {
 public:
  explicit Groups(std::size_t count) : parent_(count) { std::iota(parent_.begin(), parent_.end(), 0u); }
  std::size_t of(std::size_t node) {
    while (parent_[node] != node) node = parent_[node] = parent_[parent_[node]];
    return node;
  }
  void join(std::size_t a, std::size_t b) { parent_[of(a)] = of(b); }

 private:
  std::vector<std::size_t> parent_;
};

/// Takes out nodes n-1 .. keep, one after the other, leaving in row k the star of node k among 0 .. k-1 as it
/// was when k's turn came, and in the result the sum of that star.
Eigen::VectorXd take_out(Eigen::MatrixXd& conductance, Eigen::Index keep) {
  const Eigen::Index n = conductance.rows();
  Eigen::VectorXd total = Eigen::VectorXd::Zero(n);
  for (Eigen::Index k = n - 1; k >= keep; --k) {
    for (Eigen::Index i = 0; i < k; ++i) total(k) += conductance(k, i);
    if (total(k) == 0.0) continue;
    for (Eigen::Index i = 0; i < k; ++i) {
      const double share = conductance(k, i) / total(k);
      if (share == 0.0) continue;
      for (Eigen::Index j = 0; j < k; ++j)
        if (j != i) conductance(i, j) += share * conductance(k, j);
    }
  }
  return total;
}

/// All pair resistances of the nodes 0 .. n-1; infinite between parts that nothing joins.
Eigen::MatrixXd all_pairs(Eigen::MatrixXd conductance) {
  const Eigen::Index n = conductance.rows();
  const Eigen::VectorXd total = take_out(conductance, 1);
  Eigen::MatrixXd ohm = Eigen::MatrixXd::Constant(n, n, infinity);
  for (Eigen::Index k = 0; k < n; ++k) {  // put k back among 0 .. k-1
    ohm(k, k) = 0.0;
    if (total(k) == 0.0) continue;
    double within = 0.0;  // sum over i < l of p_i p_l R_il; every i with a share is joined to every other
                          // through k, and by the mesh that replaced k they are joined without it too
    for (Eigen::Index i = 0; i < k; ++i)
      for (Eigen::Index l = i + 1; l < k; ++l) {
        const double shares = (conductance(k, i) / total(k)) * (conductance(k, l) / total(k));
        if (shares > 0.0) within += shares * ohm(i, l);
      }
    for (Eigen::Index j = 0; j < k; ++j) {
      double along = 1.0 / total(k);
      for (Eigen::Index i = 0; i < k; ++i) {
        const double share = conductance(k, i) / total(k);
        if (share > 0.0) along += share * ohm(i, j);
      }
      ohm(k, j) = ohm(j, k) = std::isinf(along) ? infinity : along - within;
    }
  }
  return ohm;
}

}  // namespace

struct Network::Solution {
  std::map<std::string, Eigen::Index, std::less<>> node;  // several names share an index when 0 ohm joins them
  Eigen::MatrixXd conductance;
  Eigen::MatrixXd ohm;

  Eigen::Index index_of(const std::string& name) const {
    const auto found = node.find(name);
    if (found == node.end()) throw std::out_of_range("the network has no node \"" + name + "\"");
    return found->second;
  }
};

Network::Network(std::vector<std::string> nodes, const std::vector<Resistor>& resistors)
    : solution_(std::make_unique<Solution>()) {
  std::map<std::string, std::size_t> index;
  for (const std::string& name : nodes)
    if (!index.emplace(name, index.size()).second)
      throw std::invalid_argument("the network has the node \"" + name + "\" twice");
  const auto index_of = [&](const std::string& name) {
    const auto found = index.find(name);
    if (found == index.end()) throw std::invalid_argument("the network has no node \"" + name + "\"");
    return found->second;
  };

  Groups joined(index.size());
  for (const Resistor& resistor : resistors) {
    if (!(resistor.ohm >= 0.0))
      throw std::invalid_argument("the resistor \"" + resistor.id + "\" has a resistance below 0 or none");
    const std::size_t from = index_of(resistor.from);
    const std::size_t to = index_of(resistor.to);
    if (resistor.ohm < least_ohm) joined.join(from, to);
  }

  std::map<std::size_t, Eigen::Index> place_of_group;
  for (const std::string& name : nodes) {
    const auto place = place_of_group.emplace(joined.of(index.at(name)), Eigen::Index(place_of_group.size())).first;
    solution_->node.emplace(name, place->second);
  }
  const auto size = static_cast<Eigen::Index>(place_of_group.size());
  Eigen::MatrixXd conductance = Eigen::MatrixXd::Zero(size, size);
  for (const Resistor& resistor : resistors) {
    const Eigen::Index from = solution_->node.find(resistor.from)->second;
    const Eigen::Index to = solution_->node.find(resistor.to)->second;
    if (from == to || std::isinf(resistor.ohm)) continue;
    conductance(from, to) += 1.0 / resistor.ohm;
    conductance(to, from) = conductance(from, to);
  }
  solution_->ohm = all_pairs(conductance);
  solution_->conductance = std::move(conductance);
}

Network::~Network() = default;
Network::Network(Network&&) noexcept = default;
Network& Network::operator=(Network&&) noexcept = default;

double Network::resistance_ohm(const std::string& a, const std::string& b) const {
  return solution_->ohm(solution_->index_of(a), solution_->index_of(b));
}

std::map<std::string, double> Network::potential_shares(const std::string& plus, const std::string& minus) const {
  const Eigen::Index top = solution_->index_of(plus);
  const Eigen::Index bottom = solution_->index_of(minus);
  if (top == bottom) throw std::invalid_argument("0 ohm joins the source's two ends, " + plus + " and " + minus);
  const Eigen::Index n = solution_->conductance.rows();
  std::vector<Eigen::Index> order{top, bottom};  // the two ends stay; all others are taken out and put back
  for (Eigen::Index i = 0; i < n; ++i)
    if (i != top && i != bottom) order.push_back(i);
  Eigen::MatrixXd conductance(n, n);
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j < n; ++j) conductance(i, j) = solution_->conductance(order[i], order[j]);
  const Eigen::VectorXd total = take_out(conductance, 2);

  constexpr double floating = std::numeric_limits<double>::quiet_NaN();
  std::vector<double> share_of(static_cast<std::size_t>(n), floating);
  share_of[top] = 1.0;
  share_of[bottom] = 0.0;
  for (Eigen::Index k = 2; k < n; ++k) {
    if (total(k) == 0.0) continue;  // nothing before it: it floats, and so does what hangs on it
    double share = 0.0;
    for (Eigen::Index i = 0; i < k; ++i)
      if (conductance(k, i) > 0.0) share += conductance(k, i) / total(k) * share_of[order[i]];
    share_of[order[k]] = share;
  }
  std::map<std::string, double> shares;
  for (const auto& [name, index] : solution_->node)
    if (!std::isnan(share_of[index])) shares.emplace(name, share_of[index]);
  return shares;
}

}  // namespace switchwright
