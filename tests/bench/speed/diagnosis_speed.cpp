// Usage: diagnosis_speed [SWITCHES]
// What the reasoning costs and what it saves, as tables:
//   1  time to build all single and double fault hypotheses and rank them against a full set of readings
//   2  probe moves of a complete qualification in the planned and in the plain order
//   3  readings of an adaptive verdict against the full plan, mean over SWITCHES (default 40) good and as
//   many faulty
//      simulated switches per profile, faults drawn as often as their prior weights say
//   4  networks solved per second, ours against ngspice on the same networks (SKIPPED without the package
//   ngspice)
#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>

#include "explain/blind.hpp"
#include "explain/predictor.hpp"
#include "profile/parts.hpp"
#include "switchwright/explain/coverage.hpp"
#include "switchwright/profile/route.hpp"

using namespace switchwright;
using simulated::Meter;
using simulated::Switch;

namespace {

/// What is known at this bench, and its hand-held meter of four thousand counts.
struct Knowing : blind::Known {
  MeterDefinition meter = blind::shipped_meter("text-14");
};

double seconds_since(std::chrono::steady_clock::time_point begin) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

/// Twelve terminals, eight positions, invented: a common terminal that reaches one of eight, two groups and a
/// lamp.
Profile large_selector() {
  Profile p;
  p.id = "selector, 12 terminals, 8 positions";
  p.rating.voltage_v = 240;
  p.rating.current_a = 10;
  p.terminals = {"C", "A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8", "G1", "G2", "K"};
  for (int i = 1; i <= 8; ++i) p.positions.push_back({fmt::format("{}", i), 40.0 * (i - 1), ""});
  for (int i = 1; i <= 8; ++i)
    p.contacts.push_back({fmt::format("way{}", i), {"C", fmt::format("A{}", i)}, {fmt::format("{}", i)}, {}});
  p.contacts.push_back({"low", {"C", "G1"}, {"1", "2", "3", "4"}, {}});
  p.contacts.push_back({"high", {"C", "G2"}, {"5", "6", "7", "8"}, {}});
  p.contacts.push_back({"any", {"G1", "K"}, {"2", "4", "6", "8"}, {}});
  p.elements.push_back({"lamp", {"G2", "K"}, 47e3, 10});
  return p;
}

void time_to_rank(const Profile& profile, const std::string& fault, const Knowing& knowing) {
  std::mt19937_64 random(5);
  Cause cause;
  cause.fault = parse_fault(fault, profile);
  const Switch part(profile, {}, {cause}, random);
  Meter bench(knowing.meter, random);
  const Leads leads = bench.leads();
  const auto findings = simulated::measure(part, bench, knowing.meter, profile, expectations(profile), leads);
  std::vector<double> ms;
  std::size_t weighed = 0;
  for (int i = 0; i < 15; ++i) {
    const auto begin = std::chrono::steady_clock::now();
    weighed = explain(profile, knowing.library, findings, {}, knowing.meter, leads, knowing.priors).hypotheses_weighed;
    ms.push_back(1e3 * seconds_since(begin));
  }
  std::sort(ms.begin(), ms.end());
  fmt::print("| {} | {} | {} | {} | {:.1f} ms | {:.1f} ms |\n", profile.id, fault, findings.size(), weighed,
             ms[ms.size() / 2], ms.back());
}

struct Moves {
  int probes = 0;  ///< single probes moved
  int steps = 0;   ///< of the knob
};
Moves moves_of(const Profile& profile, const std::vector<Placement>& placements) {
  // The cost of a route with these figures is its moves: thousands for probes, ones for the knob.
  const RouteCost count{.move_one_s = 1e3, .move_both_s = 2e3, .turn_step_s = 1.0};
  const long all = std::lround(route_cost_s(profile, placements, count));
  return {static_cast<int>(all / 1000), static_cast<int>(all % 1000)};
}

void moves(const Profile& profile) {
  const auto expected = expectations(profile);
  const Route route = plan_route(profile, expected, RouteCost{});
  const Moves planned = moves_of(profile, route.placements);
  const Moves plain = moves_of(profile, naive_route(profile, expected));
  fmt::print("| {} | {} | {} | {} | {} | {:.0f} s | {:.0f} s | {} |\n", profile.id, planned.probes, plain.probes,
             planned.steps, plain.steps, route.cost_s, route.naive_cost_s, route.optimal ? "yes" : "no");
}

std::string whole_plan_list;

struct Adaptive {
  double readings = 0.0;
  int wrong = 0;
  int whole_plan = 0;  ///< a part with a fault for which everything that a pass needs was taken
  std::map<std::string, int> whole_plan_for;
};
/// Readings until the verdict stands, as the bench does it.
std::size_t adaptive(const Profile& profile, const Knowing& knowing, const std::vector<Place>& needed,
                     const Hypothesis& truth, std::mt19937_64& random, Adaptive& result) {
  const Switch part(profile, knowing.library, truth.causes, random);
  Meter bench(knowing.meter, random);
  const Leads leads = bench.leads();
  std::vector<Finding> findings;
  std::vector<Place> left = needed;
  for (;;) {
    const AdaptiveStep step =
        adaptive_step(profile, knowing.library, findings, left, knowing.meter, leads, knowing.priors);
    if (step.failed || left.empty()) {
      const bool fails =
          std::any_of(findings.begin(), findings.end(), [](const Finding& f) { return f.outcome == Outcome::fail; });
      if (fails == truth.good()) ++result.wrong;
      break;
    }
    const Place place = step.next && !step.looks_good ? step.next->place : left.front();
    left.erase(std::find(left.begin(), left.end(), place));
    const Indication i = bench.read(part.ohm(place));
    findings.push_back(judge(expectation(profile, place.position, place.pair), i,
                             i.state == ReadingState::finite ? Witness::not_needed : Witness::stated, profile,
                             knowing.meter, leads, {}));
  }
  if (left.empty() && !truth.good()) {
    ++result.whole_plan;
    ++result.whole_plan_for[simulated::label(truth)];
  }
  return findings.size();
}

void adaptive(const Profile& profile, const Knowing& knowing, int switches) {
  std::size_t full = 0;
  for (const Expectation& e : expectations(profile)) full += e.state != PairState::not_checked;
  std::vector<Hypothesis> faults;
  std::vector<double> weights;
  const Coverage covered = coverage(profile, expectations(profile), knowing.meter);
  for (const Hypothesis& h : hypotheses(profile, {}, knowing.priors, false))
    if (!h.good() && std::any_of(covered.faults.begin(), covered.faults.end(), [&](const CoveredFault& f) {
          return f.detected() && simulated::label(f.hypothesis) == simulated::label(h);
        })) {
      faults.push_back(h);
      weights.push_back(h.prior);
    }
  std::discrete_distribution<std::size_t> pick(weights.begin(), weights.end());
  std::mt19937_64 random(11);
  Adaptive good, bad;
  const std::vector<Place> needed = short_plan(profile, expectations(profile), knowing.meter).places;
  for (int i = 0; i < switches; ++i) {
    good.readings += double(adaptive(profile, knowing, needed, {}, random, good)) / switches;
    bad.readings += double(adaptive(profile, knowing, needed, faults[pick(random)], random, bad)) / switches;
  }
  fmt::print("| {} | {} | {:.1f} | {:.1f} | {} | {} |\n", profile.id, full, good.readings, bad.readings,
             good.wrong + bad.wrong, good.whole_plan + bad.whole_plan);
  for (const Adaptive* kind : {&good, &bad})
    for (const auto& [fault, times] : kind->whole_plan_for)
      whole_plan_list += fmt::format("{} | {}: {} x the whole plan\n", profile.id, fault, times);
  std::fflush(stdout);
}

void solves(const Knowing& knowing) {
  // The networks of all single faults of the 240 V regulator, one question for each pair that is joined.
  const auto found = std::find_if(knowing.library.begin(), knowing.library.end(),
                                  [](const Profile& p) { return p.id == "regulator-shunt-240"; });
  const Profile& profile = *found;
  const auto all = hypotheses(profile, {}, knowing.priors, false);
  const Predictor predictor(profile);
  // One circuit for each pair that is joined: a current into one end, the other end grounded.
  std::string elements;
  std::size_t networks = 0, questions = 0;
  for (const Hypothesis& h : all) {
    std::vector<Fault> faults;
    for (const Cause& cause : h.causes) faults.push_back(cause.fault);
    for (const Position& position : profile.positions) {
      ++networks;
      const auto resistors = profile_parts::faulted_resistors(profile, position.id, {}, faults);
      const Network network(profile.network_nodes(), resistors);
      for (const Pair& pair : profile.pairs()) {
        const auto in_play = [&](const std::string& node) {
          return std::isfinite(network.resistance_ohm(pair.first(), node));
        };
        if (!in_play(pair.second())) continue;
        const auto name = [&](const std::string& node) {
          return node == pair.second() ? std::string("0") : fmt::format("q{}{}", questions, node);
        };
        int part = 0;
        for (const Resistor& r : resistors)
          if (std::isfinite(r.ohm) && in_play(r.from))
            elements +=
                fmt::format("R{}x{} {} {} {}\n", questions, part++, name(r.from), name(r.to), std::max(r.ohm, 1e-6));
        elements += fmt::format("I{} 0 {} 1\n", questions, name(pair.first()));
        ++questions;
      }
    }
  }
  const int rounds = 3000;
  auto begin = std::chrono::steady_clock::now();
  double sum = 0.0;
  for (int round = 0; round < rounds; ++round)
    for (const Hypothesis& h : all) {
      const Scenario scenario = predictor.scenario(h.causes);
      std::vector<double> values;
      for (const Unknown& u : scenario.unknowns) values.push_back(u.nominal_ohm);
      for (const Ohms& ohms : scenario.solved(values)) sum += std::min(ohms(0, 1), 1.0);
    }
  const double predictor_s = seconds_since(begin) / rounds;
  begin = std::chrono::steady_clock::now();
  for (int round = 0; round < 50; ++round)
    for (const Hypothesis& h : all) {
      std::vector<Fault> faults;
      for (const Cause& cause : h.causes) faults.push_back(cause.fault);
      for (const Position& position : profile.positions) {
        const Network network = network_of(profile, position.id, {}, faults);
        for (const Pair& pair : profile.pairs())
          sum += std::min(network.resistance_ohm(pair.first(), pair.second()), 1.0);
      }
    }
  const double nodal_s = seconds_since(begin) / 50;
  fmt::print("| fault predictor (one resistor added at a time, equal positions once) | {:.0f} |\n",
             double(networks) / predictor_s);
  fmt::print("| nodal analysis (one factorisation per network) | {:.0f} |\n", double(networks) / nodal_s);
  if (std::system("command -v ngspice >/dev/null 2>&1") != 0) {
    fmt::print("| ngspice | SKIPPED: install the Debian package ngspice |\n");
    return;
  }
  const auto deck = std::filesystem::temp_directory_path() / fmt::format("diagnosis-speed-{}.cir", getpid());
  std::ofstream(deck) << "speed\n" << elements << ".control\nop\nprint all\n.endc\n.end\n";
  begin = std::chrono::steady_clock::now();
  const auto answers = std::filesystem::path(deck).replace_extension("out");
  // In batch mode the program's exit status says nothing; its answers are counted instead.
  [[maybe_unused]] const int status =
      std::system(fmt::format("ngspice -b {} >{} 2>/dev/null", deck.string(), answers.string()).c_str());
  const double spice_s = seconds_since(begin);
  std::size_t answered = 0;
  std::ifstream file(answers);
  for (std::string line; std::getline(file, line);)
    answered += line.starts_with("q") && line.find(" = ") != std::string::npos;
  std::filesystem::remove(deck);
  std::filesystem::remove(answers);
  if (answered < questions) {
    fmt::print("| ngspice | no figure: {} answers to {} questions |\n", answered, questions);
    return;
  }
  fmt::print("| ngspice, one run for all {} readings of the {} networks, reading the deck included | {:.0f} |\n",
             questions, networks, double(networks) / spice_s);
  if (sum < 0.0) std::puts("");  // so that nothing is optimised away
}

}  // namespace

int main(int argc, char** argv) {
  const int switches = argc > 1 ? std::max(std::atoi(argv[1]), 1) : 40;
  const Knowing knowing{blind::shipped()};
#ifndef NDEBUG
  fmt::print("WARNING: not an optimised build\n");
#endif
  fmt::print(
      "1. Build and rank all single and double faults (15 runs)\n\n| part | fault in it | readings | "
      "hypotheses | median "
      "| slowest |\n| --- | --- | --- | --- | --- | --- |\n");
  for (const Profile& profile : knowing.library)
    if (profile.id == "regulator-shunt-240") time_to_rank(profile, "stuck-closed:cycling", knowing);
  time_to_rank(large_selector(), "stuck-closed:way3", knowing);

  fmt::print(
      "\n2. Moves of a complete qualification by hand\n\n| profile | probes moved | in the plain order | "
      "knob steps | "
      "plain | time for moves | plain | proven least |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n");
  for (const Profile& profile : knowing.library) moves(profile);
  moves(large_selector());

  fmt::print(
      "\n3. Readings until the verdict, adaptive plan ({} good and {} faulty switches each)\n\n| profile | "
      "full plan | "
      "adaptive, good | adaptive, faulty | wrong | whole plan taken |\n| --- | --- | --- | --- | --- | --- "
      "|\n",
      switches, switches);
  for (const Profile& profile : knowing.library) adaptive(profile, knowing, switches);
  if (!whole_plan_list.empty()) fmt::print("\n{}", whole_plan_list);

  fmt::print(
      "\n4. Networks of all single faults of regulator-shunt-240, solved for every pair\n\n| | networks per "
      "second |\n| "
      "--- | --- |\n");
  solves(knowing);
  return 0;
}
