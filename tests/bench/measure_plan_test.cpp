// Plans shorter than the full one, led through the session.
#include <doctest/doctest.h>

#include <set>

#include "imagined_bench.hpp"

using namespace switchwright;
using switchwright::testing::ImaginedBench;

namespace {

SessionSettings settings_for(const std::string& plan) {
  static const auto knowledge =
      std::make_shared<const Knowledge>(load_knowledge({std::string{SOURCE_DIR} + "/profiles"}));
  SessionSettings settings;
  settings.plan = plan;
  settings.knowledge = knowledge;
  return settings;
}

Verdict verdict_of(ImaginedBench& bench, const std::string& plan) {
  bench.begin(settings_for(plan)).start();
  bench.listen(1000);
  REQUIRE(bench.session->verdict());
  return *bench.session->verdict();
}

bool has_remark(const Verdict& verdict, const std::string& words) {
  return std::any_of(verdict.remarks.begin(), verdict.remarks.end(),
                     [&](const std::string& remark) { return remark.find(words) != std::string::npos; });
}

}  // namespace

TEST_CASE("a shorter plan passes a good switch and counts what it left out") {
  for (const char* plan : {"short", "adaptive"}) {
    CAPTURE(plan);
    ImaginedBench bench;
    const Verdict verdict = verdict_of(bench, plan);
    CHECK(verdict.outcome == Outcome::pass);
    CHECK(verdict.plan == plan);
    CHECK(verdict.not_measured.empty());
    CHECK(verdict.findings.size() < 40);
    // Six nodes make 6*5/2 = 15 pairs; four positions.
    CHECK(verdict.findings.size() + verdict.left_out.size() == 60);
    CHECK(has_remark(verdict, std::to_string(verdict.left_out.size()) + " readings"));
    CHECK_FALSE(verdict.diagnosis);
  }
}

TEST_CASE("every single fault of the regulator fails by the short plan") {
  for (const char* fault :
       {"stuck-closed:line", "stuck-closed:pilot", "stuck-closed:cycling", "stuck-open:line", "stuck-open:pilot",
        "stuck-open:cycling", "resistive:line=20", "resistive:pilot=20", "resistive:cycling=20", "open:heater",
        "shorted:heater", "drifted:heater=60", "swapped:L1,L2", "clocked=1"}) {
    CAPTURE(fault);
    ImaginedBench bench{false, {fault}};
    CHECK(verdict_of(bench, "short").outcome == Outcome::fail);
  }
}

TEST_CASE("the adaptive plan fails a welded contact only with a reading that fails by itself") {
  ImaginedBench bench{false, {"stuck-closed:cycling"}};
  const Verdict verdict = verdict_of(bench, "adaptive");
  CHECK(verdict.outcome == Outcome::fail);
  CHECK(std::any_of(verdict.findings.begin(), verdict.findings.end(),
                    [](const Finding& f) { return f.outcome == Outcome::fail; }));
  CHECK(has_remark(verdict, "threshold 0.99"));
  REQUIRE(verdict.diagnosis);
  CHECK(verdict.diagnosis->explanations.front().fault == "stuck-closed:cycling");
}

TEST_CASE("an adaptive session numbers its steps upwards and measures no place twice") {
  ImaginedBench bench;
  verdict_of(bench, "adaptive");
  int before = 0;
  std::set<std::pair<std::string, std::string>> places;
  for (const Event& event : bench.log)
    if (const auto* shown = std::get_if<StepShown>(&event)) {
      CHECK(shown->step.number > before);
      CHECK(shown->step.number <= shown->of);
      before = shown->step.number;
      if (shown->step.kind == StepKind::measure)
        CHECK(places.insert({shown->step.arrangement.position, shown->step.arrangement.pair.text()}).second);
    }
  CHECK(std::get<StepShown>(*std::find_if(bench.log.rbegin(), bench.log.rend(), [](const Event& event) {
          return std::holds_alternative<StepShown>(event);
        })).step.kind == StepKind::leads_after);
}

TEST_CASE("a person is asked to state contact when an adaptive plan meets an open first") {
  ImaginedBench bench{true};
  bench.begin(settings_for("adaptive")).start();
  bench.run_to_end();
  REQUIRE(bench.session->verdict());
  CHECK(bench.session->verdict()->outcome == Outcome::pass);
  for (const Finding& finding : bench.session->verdict()->findings) CHECK(finding.witness != Witness::missing);
}

TEST_CASE(
    "a place that is skipped in an adaptive session is not asked for again and leaves the verdict "
    "undecided") {
  ImaginedBench bench{true};
  bench.begin(settings_for("adaptive")).start();
  bench.run_to(StepKind::measure);
  const Arrangement skipped = bench.session->current()->arrangement;
  bench.session->skip("terminal is broken off");
  bench.run_to_end();
  const Verdict& verdict = *bench.session->verdict();
  CHECK(verdict.outcome == Outcome::undecided);
  REQUIRE(verdict.not_measured.size() == 1);
  CHECK(verdict.not_measured.front().pair == skipped.pair);
  REQUIRE(verdict.diagnosis);
  CHECK(verdict.diagnosis->explanations.front().fault == "none");
}

TEST_CASE("a plan that does not exist is refused") {
  ImaginedBench bench;
  CHECK_THROWS_WITH(bench.begin(settings_for("quick")), doctest::Contains("not a plan"));
}
