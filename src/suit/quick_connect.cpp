#include "switchwright/suit/quick_connect.hpp"

#include <array>
#include <cmath>

namespace switchwright {

namespace {

// UL 310, temperature test (published connector catalogue, "based on UL-310"; rows 22 to 16 also in a second one).
// Cycling current is twice the continuous one. 0 stands for "not in the table".
struct Row {
  int awg;
  double wide_a;    // 0.250, 0.205 and 0.187 inch
  double narrow_a;  // 0.110 and 0.125 inch
};
constexpr std::array<Row, 7> rows{
    {{22, 3, 2}, {20, 4, 3}, {18, 7, 4}, {16, 10, 5}, {14, 15, 0}, {12, 20, 0}, {10, 24, 0}}};
constexpr std::array wide_tabs{0.250, 0.205, 0.187};
constexpr std::array narrow_tabs{0.125, 0.110};

template <class Tabs>
bool among(const Tabs& tabs, double inch) {
  for (const double tab : tabs)
    if (std::abs(tab - inch) < 0.0005) return true;
  return false;
}

}  // namespace

std::optional<QuickConnectCurrents> quick_connect_currents(int awg, double tab_inch) {
  const bool wide = among(wide_tabs, tab_inch);
  if (!wide && !among(narrow_tabs, tab_inch)) return std::nullopt;
  for (const Row& row : rows) {
    const double continuous_a = wide ? row.wide_a : row.narrow_a;
    if (row.awg == awg && continuous_a > 0.0) return QuickConnectCurrents{continuous_a, 2.0 * continuous_a};
  }
  return std::nullopt;
}

std::vector<double> quick_connect_tabs() {
  std::vector<double> tabs(wide_tabs.begin(), wide_tabs.end());
  tabs.insert(tabs.end(), narrow_tabs.begin(), narrow_tabs.end());
  return tabs;
}

std::vector<int> quick_connect_gauges() {
  std::vector<int> gauges;
  for (const Row& row : rows) gauges.push_back(row.awg);
  return gauges;
}

}  // namespace switchwright
