// What a push-on (quick-connect) terminal is tested with: the currents of the temperature tests of UL 310.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace switchwright {

/// Test currents for tin-plated copper wire. Continuous: the terminal rises by at most 30 K. Cycling: 45 min on, 15 min
/// off, at twice that current, rise below 85 K. They are tests of a connector, not the ampacity of a wire.
struct QuickConnectCurrents {
  double continuous_a = 0.0;
  double cycling_a = 0.0;
};
/// @param awg wire gauge number, @param tab_inch width of the tab in inch (0.110, 0.125, 0.187, 0.205, 0.250, or what that is in
/// whole tenths of a millimetre); nothing
/// for a pair that the table does not have. Source: UL 310 temperature test as printed in a connector catalogue.
std::optional<QuickConnectCurrents> quick_connect_currents(int awg, double tab_inch);
/// "14", "14AWG" or "AWG 14". @throws Error(usage), also for a cross-section in mm2.
int parse_gauge(const std::string& text);
/// Tab widths in inch and gauges that the table knows.
std::vector<double> quick_connect_tabs();
std::vector<int> quick_connect_gauges();

}  // namespace switchwright
