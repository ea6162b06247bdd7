#include "switchwright/suit/quick_connect.hpp"

#include <array>
#include <cctype>
#include <cmath>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

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
// Tabs are called by round figures in both systems: 6.3 mm is the 0.250 inch tab (0.248), 4.8 mm the 0.187 (0.189), 2.8 mm the
// 0.110 (0.1102): nominal widths of IEC 61210, from memory. No two tabs of the table lie this near.
constexpr double same_tab_inch = 0.003;
constexpr std::array wide_tabs{0.250, 0.205, 0.187};
constexpr std::array narrow_tabs{0.125, 0.110};

template <class Tabs>
bool among(const Tabs& tabs, double inch) {
  for (const double tab : tabs)
    if (std::abs(tab - inch) < same_tab_inch) return true;
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

int parse_gauge(const std::string& text) {
  constexpr const char* option = "--wire";
  std::string digits = text;
  for (char& c : digits) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  if (digits.ends_with("MM2") || digits.ends_with("MM^2") || digits.ends_with("MM\u00B2"))
    throw Error(ErrorKind::usage,
                "\"" + terminal_safe(text) + "\" is a cross-section; the table of push-on terminals goes by wire gauge",
                option, "give the gauge, like 14 or 14AWG");
  if (digits.starts_with("AWG")) digits.erase(0, 3);
  return static_cast<int>(read_count(digits, 0, 40, "AWG", option));
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
