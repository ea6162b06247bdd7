// The thermal contact against closed-form figures and against a circuit simulator.
#include "sim/cycling_contact.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>
#include <string>

#include "skip.hpp"

namespace switchwright::sim {

namespace {

std::vector<ContactEvent> run(CyclingContact& contact, double to_s) {
  std::vector<ContactEvent> events;
  contact.advance(to_s, events);
  return events;
}

CyclingContact heated(const CyclingContactSettings& settings, double final_rise_k, SnapPoints points) {
  CyclingContact contact{settings};
  contact.heat(final_rise_k);
  contact.set_snap_points(points);
  return contact;
}

CyclingContactSettings plain(double tau_s) {
  CyclingContactSettings settings;
  settings.time_constant_s = tau_s;
  return settings;
}

}  // namespace

TEST_CASE("On time and off time are those of the first-order law") {
  struct Row {
    double tau_s, final_rise_k, closes_k, opens_k;
    double on_s, off_s, duty;
  };
  const Row rows[] = {
      // tau   final   closes  opens    on      off     duty     source: computed from the first-order law,
      // not by this
      {1.0, 1.0, 1.0 / 3, 2.0 / 3, 0.693147, 0.693147, 0.5000},  // tau ln 2: RC astable, published
      {30.0, 200.0, 75.0, 85.0, 2.501, 3.755, 0.3998},           // 240 V
      {30.0, 150.22, 75.0, 85.0, 4.279, 3.755, 0.5326},          // the same at 208 V
      {30.0, 200.0, 45.0, 55.0, 2.001, 6.020, 0.2494},          {30.0, 200.0, 115.0, 125.0, 3.755, 2.501, 0.6002},
      {30.0, 150.22, 115.0, 125.0, 10.019, 2.501, 0.8002},
  };
  for (const Row& row : rows) {
    CAPTURE(row.final_rise_k);
    CAPTURE(row.opens_k);
    auto contact = heated(plain(row.tau_s), row.final_rise_k, {row.closes_k, row.opens_k});
    const auto events = run(contact, 500.0 * row.tau_s);
    REQUIRE(events.size() > 100);
    for (std::size_t i = 50; i + 2 < 100; i += 2) {
      const std::size_t closing = events[i].closed ? i : i + 1;
      const double on_s = events[closing + 1].at_s - events[closing].at_s;
      const double off_s = events[closing + 2].at_s - events[closing + 1].at_s;
      CHECK(on_s == doctest::Approx(row.on_s).epsilon(0.0005));
      CHECK(off_s == doctest::Approx(row.off_s).epsilon(0.0005));
      CHECK(on_s / (on_s + off_s) == doctest::Approx(row.duty).epsilon(0.0005));
    }
  }
}

TEST_CASE("Half the voltage never opens the contact") {
  auto contact = heated(plain(30.0), 50.0, {75.0, 85.0});  // 120 V on a 240 V heater: 50 K rise
  CHECK(run(contact, 1e6).empty());
  CHECK(contact.closed());
  CHECK(std::isinf(contact.next_event_s()));
}

TEST_CASE("Events do not depend on how often the time is asked for") {
  auto at_once = heated(plain(30.0), 200.0, {75.0, 85.0});
  auto often = heated(plain(30.0), 200.0, {75.0, 85.0});
  const auto wanted = run(at_once, 300.0);
  std::vector<ContactEvent> seen;
  for (int i = 0; i <= 30'000; ++i) often.advance(0.01 * i, seen);
  REQUIRE(seen.size() == wanted.size());
  for (std::size_t i = 0; i < seen.size(); ++i) {
    CHECK(seen[i].closed == wanted[i].closed);
    CHECK(seen[i].at_s == doctest::Approx(wanted[i].at_s).epsilon(1e-9));
  }
}

TEST_CASE("Power off closes the contact once it has cooled and then nothing more happens") {
  auto contact = heated(plain(30.0), 200.0, {75.0, 85.0});
  const auto first = run(contact, 20.0);
  REQUIRE(first.size() == 1);
  CHECK_FALSE(contact.closed());
  contact.heat(0.0);
  const auto rest = run(contact, 1e6);
  REQUIRE(rest.size() == 1);
  CHECK(rest[0].closed);
  CHECK(rest[0].at_s - first[0].at_s == doctest::Approx(3.755).epsilon(0.0005));  // 30 s ln(85/75)
}

TEST_CASE("A welded contact never opens again and a cam holds one shut") {
  auto settings = plain(30.0);
  settings.welds_at_operation = 4;
  auto contact = heated(settings, 200.0, {75.0, 85.0});
  CHECK(run(contact, 1e5).size() == 6);  // three openings, three closings, then welded
  CHECK(contact.welded());
  CHECK(contact.closed());

  auto held = heated(plain(30.0), 200.0, {75.0, 85.0});
  run(held, 20.0);
  held.set_snap_points(std::nullopt);
  const auto events = run(held, 1e5);
  REQUIRE(events.size() == 1);
  CHECK(events[0] == ContactEvent{20.0, true});
}

TEST_CASE("A contact bounces after closing and each bounce is shorter") {
  auto settings = plain(30.0);
  settings.bounces = 3;
  settings.bounce_s = 0.004;
  auto contact = heated(settings, 200.0, {75.0, 85.0});
  const auto events = run(contact, 21.0);
  REQUIRE(events.size() == 8);  // opens, closes, then three times open and closed
  const double closing_s = events[1].at_s;
  const double after_ms[] = {4.0, 8.0, 10.0, 12.0, 13.0, 14.0};
  for (int i = 0; i < 6; ++i) {
    CHECK((events[2 + i].at_s - closing_s) * 1e3 == doctest::Approx(after_ms[i]));
    CHECK(events[2 + i].closed == (i % 2 == 1));
  }
}

TEST_CASE("Drift moves the snap points and scatter spreads the cycles") {
  const auto on_times = [](const CyclingContactSettings& settings) {
    auto contact = heated(settings, 200.0, {75.0, 85.0});
    const auto events = run(contact, 1000.0);
    std::vector<double> on_s;
    for (std::size_t i = 1; i + 1 < events.size(); i += 2) on_s.push_back(events[i + 1].at_s - events[i].at_s);
    return on_s;
  };
  auto drifting = plain(30.0);
  drifting.drift_per_opening = 0.002;
  const auto slow = on_times(drifting);
  CHECK(slow.back() > slow.front() * 1.1);
  auto scattered = plain(30.0);
  scattered.scatter = 0.01;
  const auto once = on_times(scattered);
  CHECK(once == on_times(scattered));
  scattered.seed = 2;
  CHECK(once != on_times(scattered));
  CHECK(std::abs(once[3] - once[4]) > 1e-3);
}

TEST_CASE("Snap points that cannot be are refused") {
  CyclingContact contact{plain(30.0)};
  CHECK_THROWS_AS(contact.set_snap_points(SnapPoints{85.0, 85.0}), std::invalid_argument);
  CHECK_THROWS_AS(contact.set_snap_points(SnapPoints{std::nan(""), 85.0}), std::invalid_argument);
}

TEST_CASE("Edge times agree with a transient run of the equivalent relaxation circuit in ngspice") {
  if (test::is_missing("ngspice", "ngspice")) return;
  // The bimetal is a capacitor behind a resistor, the snap spring a switch with hysteresis that takes the
  // drive away.
  constexpr double tau_s = 30.0;
  constexpr double final_rise = 200.0;
  constexpr double closes = 75.0;
  constexpr double opens = 85.0;
  constexpr int edges = 12;
  const auto directory = std::filesystem::path{BINARY_DIR} / "ngspice_contact";
  std::filesystem::create_directories(directory);
  std::ofstream deck{directory / "deck.cir"};
  deck << "* relaxation of a heated contact\n"
       << "vs source 0 1\nrs source contact 1k\n"
       << "s1 contact 0 rise 0 snap off\n"
       << fmt::format(".model snap sw(vt={} vh={} ron=1e-3 roff=1e12)\n", (opens + closes) / 2, (opens - closes) / 2)
       << fmt::format("bd drive 0 v={}*v(contact)\n", final_rise)
       << fmt::format("r1 drive rise 1k\nc1 rise 0 {} ic=0\n", tau_s / 1000.0)
       << ".options reltol=1e-6\n.control\ntran 2m 60 0 2m uic\n";
  for (int i = 1; i <= edges; ++i) deck << fmt::format("meas tran edge{} when v(contact)=0.5 cross={}\n", i, i);
  deck << "quit\n.endc\n.end\n";
  deck.close();
  const auto log = directory / "log.txt";
  const std::string command = "cd '" + directory.string() + "' && ngspice -b deck.cir > log.txt 2>&1";
  REQUIRE(std::system(command.c_str()) == 0);
  std::ifstream in{log};
  std::stringstream text;
  text << in.rdbuf();
  auto contact = heated(plain(tau_s), final_rise, {closes, opens});
  const auto events = run(contact, 60.0);
  REQUIRE(events.size() > edges);
  for (int i = 1; i <= edges; ++i) {
    CAPTURE(i);
    const auto at = text.str().find(fmt::format("edge{} ", i));
    REQUIRE_MESSAGE(at != std::string::npos, text.str());
    const double edge_s = std::strtod(text.str().c_str() + text.str().find('=', at) + 1, nullptr);
    // Each edge of the transient may be late by one 2 ms step, and the steps add up.
    CHECK(std::abs(events[static_cast<std::size_t>(i - 1)].at_s - edge_s) < 0.003 * i);
  }
}

}  // namespace switchwright::sim
