// A few switches of the blind test in every run; tests/bench/diagnosis/README.md has the long tables.
// SWITCHWRIGHT_BLIND sets how many switches per profile (default 20).
#include "explain/blind.hpp"

#include <doctest/doctest.h>

#include <cstdio>
#include <cstdlib>

using namespace switchwright;

namespace {

int switches_per_profile() {
  const char* asked = std::getenv("SWITCHWRIGHT_BLIND");
  return asked ? std::max(std::atoi(asked), 1) : 20;
}

/// A coarse meter, a better one, and one that resolves a milliohm.
const std::vector<std::string> meters{"text-14", "text-line-units", "scpi"};

void blind_test(std::size_t causes, double least_found_percent) {
  const blind::Known known = blind::shipped();
  for (const std::string& id : meters) {
    const MeterDefinition meter = blind::shipped_meter(id);
    blind::Tally all;
    for (const Profile& profile : known.library) {
      const blind::Result result = blind::evenly(profile, known, meter, causes, switches_per_profile(), 20260301);
      all.add(result.tally);
      for (const auto& [what, times] : result.mistaken) std::printf("  %s: %d x %s\n", id.c_str(), times, what.c_str());
    }
    std::printf("%s, %zu fault(s), %d switches: first %d, in its group %d, wrong %d; groups of %.1f\n", id.c_str(),
                causes, all.all(), all.first, all.in_group, all.wrong, all.mean_group());
    CAPTURE(id);
    CHECK(all.found_percent() >= least_found_percent);
    CHECK(all.mean_group() < 10.0);
  }
}

/// Two standard deviations of a count of `made` that should be true with the promised share.
double allowance(const blind::Claims& c) {
  const double p = c.promised / std::max(c.made, 1);
  return 2.0 * std::sqrt(p * (1.0 - p) * c.made);
}

}  // namespace

TEST_CASE("a random single fault is named first or in its group in 99 of 100 switches, whatever the meter") {
  blind_test(1, 99.0);
}

TEST_CASE("a random double fault is named first or in its group in 95 of 100 switches, whatever the meter") {
  blind_test(2, 95.0);
}

TEST_CASE("what is called 90 to 99 per cent probable is true that often") {
  const blind::Known known = blind::shipped();
  for (const std::string& id : meters) {
    const MeterDefinition meter = blind::shipped_meter(id);
    blind::Claims prior, even;
    const auto add = [](blind::Claims& sum, const blind::Claims& c) {
      sum.made += c.made, sum.promised += c.promised;
      sum.true_alone += c.true_alone, sum.true_or_in_group += c.true_or_in_group;
    };
    for (const Profile& profile : known.library) {
      add(prior, blind::by_priors(profile, known, meter, 2 * switches_per_profile(), 7).claims);
      // Near the limits: contacts of 0.1 to 4 ohm, elements from the edge of their band.
      for (std::size_t causes : {1U, 2U})
        add(even,
            blind::evenly(profile, known, meter, causes, switches_per_profile(), 8, {0.1, 4.0, 0.0, 20.0}).claims);
    }
    std::printf(
        "%s, by priors: %d claims, promised %.1f, true %d; evenly: %d claims, promised %.1f, true %d, or in the "
        "group %d\n",
        id.c_str(), prior.made, prior.promised, prior.true_alone, even.made, even.promised, even.true_alone,
        even.true_or_in_group);
    CAPTURE(id);
    CHECK(prior.true_alone >= prior.promised - allowance(prior));
    CHECK(even.true_or_in_group >= even.promised - allowance(even));
  }
}
