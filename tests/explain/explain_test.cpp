#include "switchwright/explain/explain.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "explain/weigh.hpp"
#include "simulated.hpp"
#include "skip.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"

using namespace parts;

namespace {

std::vector<std::filesystem::path> profile_folder() { return {std::filesystem::path(SOURCE_DIR) / "profiles"}; }
FaultPriors shipped_priors() {
  return load_fault_priors(std::filesystem::path(SOURCE_DIR) / "profiles/priors/faults.toml");
}

/// The numbers that an R script prints, one a line; nothing when R is not installed.
std::vector<double> from_r(const std::string& script) {
  if (test::is_missing("Rscript", "r-base-core")) return {};
  FILE* pipe = popen(("Rscript -e '" + script + "' 2>&1").c_str(), "r");
  REQUIRE(pipe);
  std::string text;
  std::array<char, 4096> block{};
  while (const std::size_t got = std::fread(block.data(), 1, block.size(), pipe)) text.append(block.data(), got);
  pclose(pipe);
  std::vector<double> numbers;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) numbers.push_back(std::strtod(line.c_str(), nullptr));
  return numbers;
}

struct Case {
  Profile profile;
  std::vector<Profile> others;
  Diagnosis diagnosis;
};

/// A switch with one cause, measured everywhere on the given meter.
Diagnosis diagnose(const Profile& profile, const std::vector<Profile>& others, const std::vector<Cause>& causes,
                   const MeterDefinition& definition, unsigned seed = 1) {
  std::mt19937_64 random(seed);
  const simulated::Switch part(profile, others, causes, random);
  simulated::Meter meter(definition, random);
  const auto expected = expectations(profile);
  const Leads leads = meter.leads();
  const auto findings = simulated::measure(part, meter, definition, profile, expected, leads);
  return explain(profile, others, findings, {}, definition, leads, shipped_priors());
}

Cause fault_of(const std::string& text, const Profile& profile) {
  Cause cause;
  cause.fault = parse_fault(text, profile);
  return cause;
}

}  // namespace

TEST_CASE("likelihoods of finite and censored readings agree with R") {
  struct Row {
    bool finite;
    double ohm, sigma, beyond, untouched, stray, predicted;
  };
  const std::vector<Row> rows{
      {true, 0.3, 0.29, 0, 0, 1e-3, 0.05},       {true, 14400, 84, 0, 0, 1e-3, 14510},
      {true, 5.0, 0.3, 0, 0, 1e-3, 4.2},         {true, -0.2, 0.3, 0, 0, 1e-2, 0.05},
      {true, 14400, 84, 0, 0, 1e-3, 0.05},       {true, 10816, 60, 0, 0, 1e-3, 14400},
      {false, 0, 1.4e6, 40e6, 0.05, 1e-3, 0.05}, {false, 0, 1.4e6, 40e6, 0.0, 1e-3, 39e6},
      {false, 0, 1.4e6, 40e6, 0.0, 1e-3, 42e6},  {false, 0, 1.4e6, 40e6, 0.0, 1e-3, infinity},
      {false, 0, 1.4e6, 40e6, 0.05, 1e-3, 41e6},
  };
  std::string script =
      "fin <- function(x, s, st, r) log((1-st)*dnorm(x, r, s) + st/(max(abs(x), s)*log(1e10)));"
      "ovr <- function(b, s, un, st, r) log((1-st)*(un+(1-un)*pnorm(r, b, s)) + st/2); options(digits=15);";
  for (const Row& r : rows) {
    const std::string predicted = std::isinf(r.predicted) ? "Inf" : fmt::format("{}", r.predicted);
    script += r.finite ? fmt::format("cat(fin({},{},{},{}), \"\\n\");", r.ohm, r.sigma, r.stray, predicted)
                       : fmt::format("cat(ovr({},{},{},{},{}), \"\\n\");", r.beyond, r.sigma, r.untouched, r.stray,
                                     predicted);
  }
  const auto reference = from_r(script);
  if (reference.empty()) return;
  REQUIRE(reference.size() == rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Row& r = rows[i];
    Datum d;
    d.finite = r.finite;
    d.ohm = r.ohm;
    d.sigma = r.sigma;
    d.beyond = r.beyond;
    d.untouched = r.untouched;
    d.stray = r.stray;
    CAPTURE(i);
    CHECK(d.log_likelihood(r.predicted) == doctest::Approx(reference[i]).epsilon(1e-9));
  }
}

TEST_CASE("expected information agrees with numerical integration in R") {
  // Three hypotheses: two overlapping values, one mostly over-range.
  const std::vector<Outlook> outlooks{{0.5, 10.0, 1.0, 0.0}, {0.3, 12.0, 1.5, 0.0}, {0.2, 30.0, 2.0, 0.7}};
  const auto reference = from_r(
      "p <- c(.5,.3,.2); m <- c(10,12,30); s <- c(1,1.5,2); q <- c(0,0,.7); mix <- function(y) "
      "rowSums(sapply(1:3, function(h) p[h]*(1-q[h])*dnorm(y,m[h],s[h]))); qm <- sum(p*q); I <- 0; for (h in "
      "1:3) { I "
      "<- I + integrate(function(y) {f <- (1-q[h])*dnorm(y,m[h],s[h]); ifelse(f>0 & mix(y)>0, "
      "p[h]*f*log2(f/mix(y)), "
      "0)}, m[h]-8*s[h], m[h]+8*s[h], rel.tol=1e-10)$value; if (q[h]>0) I <- I + p[h]*q[h]*log2(q[h]/qm) }; "
      "options(digits=15); cat(I, \"\\n\")");
  if (!reference.empty()) CHECK(expected_information_bits(outlooks) == doctest::Approx(reference[0]).epsilon(1e-6));
  // Two equally likely hypotheses that a reading tells apart for certain are one bit; one that cannot is
  // none.
  CHECK(expected_information_bits({{0.5, 0.1, 0.3, 0.0}, {0.5, 14400, 80, 0.0}}) == doctest::Approx(1.0));
  CHECK(expected_information_bits({{0.5, infinity, infinity, 1.0}, {0.5, 0.1, 0.3, 0.0}}) == doctest::Approx(1.0));
  CHECK(expected_information_bits({{0.5, 5.0, 0.3, 0.0}, {0.5, 5.0, 0.3, 0.0}}) == doctest::Approx(0.0));
  CHECK(expected_information_bits({}) == 0.0);
}

TEST_CASE("typical faults of a regulator are named first") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const std::vector<Profile> others{load_profile("regulator-shunt-208", profile_folder()),
                                    load_profile("regulator-shunt-120", profile_folder())};
  for (const std::string text :
       {"stuck-closed:cycling", "stuck-closed:line", "stuck-open:line", "stuck-open:pilot", "resistive:line=5",
        "resistive:cycling=50", "open:heater", "shorted:heater", "swapped:L1,L2", "clocked=1", "clocked=-1"}) {
    CAPTURE(text);
    const Diagnosis d = diagnose(p, others, {fault_of(text, p)}, handheld());
    REQUIRE_FALSE(d.explanations.empty());
    Hypothesis truth{{fault_of(text, p)}, 0.0};
    CHECK(simulated::label(d.explanations[0].hypothesis) == simulated::label(truth));
    CHECK(d.explanations[0].probability > 0.5);
    CHECK(d.good_probability < 1e-3);
  }
}

TEST_CASE("with a meter that resolves milliohms no sound contact makes a second fault") {
  // Every single fault of the two-pole regulator, the contacts all at 1, 20 or 90 % of what is sound, the same or another
  // value with every closing.
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const MeterDefinition scpi = load_meter_definition("scpi", {{std::filesystem::path(SOURCE_DIR) / "meters"}});
  const FaultPriors priors = shipped_priors();
  for (const Hypothesis& truth : hypotheses(p, {}, priors, false))
    for (const double share : {0.01, 0.2, 0.9})
      for (const bool varies : {false, true}) {
        std::mt19937_64 random(9);
        simulated::Switch part(p, {}, truth.causes, random);
        for (std::size_t i = 0; i < part.sound.size(); ++i)
          part.sound[i].value = share * most_sound_ohm(p, p.contacts[i]);
        part.varies = varies;
        simulated::Meter meter(scpi, random);
        const Leads leads = meter.leads();
        const auto findings = simulated::measure(part, meter, scpi, p, expectations(p), leads);
        const Diagnosis d = explain(p, {}, findings, {}, scpi, leads, priors);
        CAPTURE(to_string(truth));
        CAPTURE(share);
        CAPTURE(varies);
        CAPTURE(to_string(d.explanations[0].hypothesis));
        CHECK(d.explanations[0].hypothesis.causes.size() <= 1);
        for (const char* named : {"stuck-closed:line", "shorted:heater"})
          if (to_string(truth) == named) {
            CHECK(to_string(d.explanations[0].hypothesis) == named);
            CHECK(d.explanations[0].probability > 0.9);
          }
      }
}

TEST_CASE("two faults are weighed as independence says") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const FaultPriors priors = shipped_priors();
  const auto all = hypotheses(p, {}, priors);
  std::map<std::string, double> weight;
  double singles = 0.0, doubles = 0.0;
  for (const Hypothesis& h : all) {
    weight[to_string(h)] = h.prior;
    if (h.causes.size() == 1) singles += h.prior;
    if (h.causes.size() == 2) doubles += h.prior;
  }
  CHECK(weight["none"] == doctest::Approx(priors.good));
  // P(A and B) / P(neither) = P(A alone) / P(neither) x P(B alone) / P(neither).
  CHECK(weight["stuck-closed:line + open:heater"] / weight["none"] ==
        doctest::Approx(weight["stuck-closed:line"] / weight["none"] * weight["open:heater"] / weight["none"]));
  // With no, one and two faults nearly everything is said: three at once are rare.
  CHECK(priors.good + singles + doubles > 0.93);
  CHECK(priors.good + singles + doubles < 1.0);
}

TEST_CASE("the answer says what it assumes and what becomes of it ten times off") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const Diagnosis sure = diagnose(p, {}, {fault_of("stuck-closed:cycling", p)}, handheld());
  CHECK(sure.assumed.least_probability <= sure.explanations[0].probability);
  CHECK(sure.assumed.most_probability >= sure.explanations[0].probability);
  CHECK(sure.assumed.then_first.empty());
  CHECK(sure.assumed.sentence.find("is assumed (profiles/priors/faults.toml), not counted") != std::string::npos);
  CHECK(sure.assumed.sentence.find("still come first") != std::string::npos);
  // Nothing measured: the answer is the priors, and falls with them.
  FaultPriors suspicious = shipped_priors();
  suspicious.good = 0.1;
  const Diagnosis nothing = explain(p, {}, {}, {}, handheld(), Leads{}, suspicious);
  CHECK(nothing.explanations[0].hypothesis.good());
  CHECK(nothing.assumed.least_probability < 0.05);
  CHECK_FALSE(nothing.assumed.then_first.empty());
  CHECK(nothing.assumed.sentence.find("could come first in its place") != std::string::npos);
}

TEST_CASE("an explanation brings what the profile says about the fault") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const Diagnosis d = diagnose(p, {}, {fault_of("stuck-closed:cycling", p)}, handheld());
  REQUIRE(d.explanations[0].consequences.size() == 1);
  CHECK(d.explanations[0].consequences[0].fault == "stuck-closed:cycling");
}

TEST_CASE("a good part is found good") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  for (unsigned seed = 1; seed <= 20; ++seed) {
    const Diagnosis d = diagnose(p, {}, {}, handheld(), seed);
    CHECK(d.explanations[0].hypothesis.good());
    CHECK(d.good_probability >
          0.8);  // a sound contact has 23 milliohm, and this meter cannot tell it from a resistive one
    CHECK(d.unexplained.empty());
  }
}

TEST_CASE("the heater tells which voltage version is on the bench") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const std::vector<Profile> others{load_profile("regulator-shunt-208", profile_folder()),
                                    load_profile("regulator-shunt-120", profile_folder())};
  for (const Profile& other : others) {
    Cause cause;
    cause.kind = CauseKind::other_profile;
    cause.profile = other.id;
    const Diagnosis d = diagnose(p, others, {cause}, handheld());
    CHECK(to_string(d.explanations[0].hypothesis) == "profile:" + other.id);
  }
}

TEST_CASE("fitted values come with the fault") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  Cause resistive;
  resistive.fault = parse_fault("resistive:line=1", p);  // the simulated switch draws its own value
  std::mt19937_64 random(7);
  const simulated::Switch part(p, {}, {resistive}, random);
  simulated::Meter meter(finer(), random);
  const Leads leads = meter.leads();
  const auto findings = simulated::measure(part, meter, finer(), p, expectations(p), leads);
  const Diagnosis d = explain(p, {}, findings, {}, finer(), leads, shipped_priors());
  REQUIRE(d.explanations[0].hypothesis.causes.size() == 1);
  const Fault& fitted = d.explanations[0].hypothesis.causes[0].fault;
  CHECK(fitted.kind == FaultKind::resistive);
  CHECK(fitted.id == "line");
  CHECK(*fitted.value == doctest::Approx(*part.faults[0].value).epsilon(0.02));
}

TEST_CASE("the next reading proposed separates what is left") {
  // Only H1-H2 has been read, at off, and it is near zero: a shorted heater, and whatever else there may be beside it.
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const auto expected = expectations(p);
  std::vector<Finding> findings;
  std::vector<Place> left;
  for (const Expectation& e : expected) {
    if (e.position == "off" && e.pair == Pair{"H1", "H2"})
      findings.push_back(judge(e, reads(0.1), Witness::not_needed, p, handheld(), Leads{}, {}));
    else
      left.push_back({e.position, e.pair});
  }
  const Diagnosis d = explain(p, {}, findings, left, handheld(), Leads{}, shipped_priors());
  CHECK(to_string(d.explanations[0].hypothesis) == "shorted:heater");
  CHECK_FALSE(d.explanations[0].hides.empty());
  REQUIRE(d.next);
  CHECK(d.next->information_bits > 0.3);
  CHECK(d.sentence.find("tells most") != std::string::npos);
}

TEST_CASE("what an explanation hides is named there and not explained once more") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const Diagnosis d = diagnose(p, {}, {fault_of("stuck-closed:cycling", p)}, handheld());
  const auto& hides = d.explanations[0].hides;
  CHECK_FALSE(hides.empty());
  for (std::size_t i = 1; i < d.explanations.size(); ++i)
    CHECK(std::find(hides.begin(), hides.end(), simulated::label(d.explanations[i].hypothesis)) == hides.end());
}

TEST_CASE("one stray reading neither hides nor makes a fault and is named") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const auto expected = expectations(p);
  std::mt19937_64 random(3);
  const simulated::Switch part(p, {}, {}, random);
  simulated::Meter meter(handheld(), random);
  const Leads leads = meter.leads();
  auto findings = simulated::measure(part, meter, handheld(), p, expected, leads);
  for (Finding& f : findings)
    if (f.expected.position == "low" && f.expected.pair == Pair{"L1", "H1"})
      f = judge(f.expected, reads(14000, 10), Witness::not_needed, p, handheld(), leads, {});
  const Diagnosis d = explain(p, {}, findings, {}, handheld(), leads, shipped_priors());
  CHECK(d.explanations[0].hypothesis.good());
  REQUIRE(d.unexplained.size() == 1);
  CHECK(d.unexplained[0] == Place{"low", {"L1", "H1"}});
}

TEST_CASE("nothing measured leaves the priors") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const Diagnosis d = explain(p, {}, {}, {}, handheld(), Leads{}, shipped_priors());
  CHECK(d.explanations[0].hypothesis.good());
  CHECK(d.unexplained.empty());
}

TEST_CASE("the file of priors names its mistakes all at once") {
  CHECK_NOTHROW(shipped_priors());
  CHECK(shipped_priors().sources.at("good") == "invented");
  try {
    parse_fault_priors(
        "schema = 1\ngood = 2\nstray_reading = 1e-3\nstray_reading_source = \"x\"\nuntouched = 0.1\n"
        "untouched_source = \"x\"\n[[kind]]\nname = \"stuck-close\"\nchance = 0.1\nsource = \"x\"\nsurce = "
        "\"y\"\n",
        "priors.toml");
    FAIL("accepted");
  } catch (const Error& error) {
    const std::string text = error.what();
    CHECK(text.find("priors.toml:2:") != std::string::npos);
    CHECK(text.find("good_source") != std::string::npos);
    CHECK(text.find("did you mean \"stuck-closed\"?") != std::string::npos);
    CHECK(text.find("surce") != std::string::npos);
  }
}

TEST_CASE("all single and double faults of a regulator are ranked within the time of a blink") {
  const Profile p = load_profile("regulator-shunt-240", profile_folder());
  const std::vector<Profile> others{load_profile("regulator-shunt-208", profile_folder())};
  std::mt19937_64 random(5);
  const simulated::Switch part(p, others, {fault_of("stuck-closed:cycling", p)}, random);
  simulated::Meter meter(handheld(), random);
  const Leads leads = meter.leads();
  const auto findings = simulated::measure(part, meter, handheld(), p, expectations(p), leads);
  const FaultPriors priors = shipped_priors();
  double best_ms = 1e9;
  std::size_t weighed = 0;
  for (int i = 0; i < 10; ++i) {
    const auto begin = std::chrono::steady_clock::now();
    weighed = explain(p, others, findings, {}, handheld(), leads, priors).hypotheses_weighed;
    best_ms =
        std::min(best_ms, std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begin).count());
  }
  MESSAGE(weighed << " hypotheses in " << best_ms << " ms");
  CHECK(weighed > 500);
}

TEST_CASE("all single and double faults of a large selector are ranked within a second") {
  // Twelve terminals, eight positions, invented: a common terminal that reaches one of eight, two groups and
  // a lamp.
  Profile p;
  p.id = "selector";
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
  const auto expected = expectations(p);
  std::mt19937_64 random(5);
  const simulated::Switch part(p, {}, {fault_of("stuck-closed:way3", p)}, random);
  simulated::Meter meter(handheld(), random);
  const Leads leads = meter.leads();
  const auto findings = simulated::measure(part, meter, handheld(), p, expected, leads);
  const FaultPriors priors = shipped_priors();
  const auto begin = std::chrono::steady_clock::now();
  const Diagnosis d = explain(p, {}, findings, {}, handheld(), leads, priors);
  const double ms = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begin).count();
  MESSAGE(d.hypotheses_weighed << " hypotheses, " << findings.size() << " readings, " << ms << " ms");
  CHECK(to_string(d.explanations[0].hypothesis) == "stuck-closed:way3");
}
