// The rule by which the outcome follows from the scope, written down as a table apart from the code.
#include "switchwright/judge/scope.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "switchwright/core/error.hpp"

using namespace switchwright;

namespace {

/// One letter a part, in the order of scope_parts: p pass, f fail, u undecided, - not asked.
Scope scope_of(const std::string& letters) {
  Scope scope;
  for (std::size_t i = 0; i < letters.size(); ++i) {
    const ScopePart part = scope_parts[i];
    if (letters[i] == 'p') scope.passes(part);
    if (letters[i] == 'f') scope.fails(part, "it is bad");
    if (letters[i] == 'u') scope.undecided(part, "it is open");
  }
  return scope;
}

}  // namespace

TEST_CASE("the outcome follows from the scope and what is required") {
  using enum ScopePart;
  using enum Outcome;
  struct Row {
    std::string scope;  // continuity, soundness, voltages, timing, inspection, stated
    ScopeParts required;
    Outcome outcome;
    std::string title;
  };
  const std::vector<Row> rows{
      {"------", {}, undecided, "Undecided"},
      {"p-----", {}, pass, "Pass for continuity"},
      {"pu----", {}, pass, "Pass for continuity, soundness not decided"},
      {"pu--p-", {}, pass, "Pass for continuity, soundness not decided"},
      {"pp--p-", {}, pass, "Pass for continuity and soundness"},
      {"pup---", {}, pass, "Pass for continuity and voltages, soundness not decided"},
      {"pu----", {soundness}, undecided, "Undecided"},
      {"pp----", {soundness}, pass, "Pass for continuity and soundness"},
      {"pp----", {timing}, undecided, "Undecided"},
      {"pp-p--", {timing, soundness}, pass, "Pass for continuity, soundness and timing"},
      {"pf----", {}, fail, "Fail"},
      {"uf----", {}, fail, "Fail"},
      {"uu----", {}, undecided, "Undecided"},
      {"pp--u-", {}, undecided, "Undecided"},
      {"pp--f-", {}, fail, "Fail"},
      {"pp---u", {}, undecided, "Undecided"},
      {"pp---f", {}, fail, "Fail"},
      {"pp---f", {soundness, timing}, fail, "Fail"},
      {"ppu---", {}, undecided, "Undecided"},
      {"-u----", {}, undecided, "Undecided"},  // the millivolt drop asks for soundness and nothing else
      {"-p----", {}, pass, "Pass for soundness"},
      {"---u--", {}, undecided, "Undecided"},
      {"---p--", {}, pass, "Pass for timing"},
      {"--p---", {}, pass, "Pass for voltages"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.scope);
    const Conclusion conclusion = conclude(scope_of(row.scope), row.required);
    CHECK(conclusion.outcome == row.outcome);
    CHECK(conclusion.title == row.title);
    CHECK(conclusion.headline.starts_with(row.title));
    CHECK(conclusion.headline.ends_with("."));
  }
}

TEST_CASE("work that ended early decides nothing but what has failed") {
  Scope scope = scope_of("pu-f-p");
  scope.interrupted("the work was stopped");
  CHECK(scope[ScopePart::continuity].decided == Decided::undecided);
  CHECK(scope[ScopePart::continuity].reason == "the work was stopped");
  CHECK(scope[ScopePart::voltages].decided == Decided::not_asked);
  CHECK(scope[ScopePart::timing].decided == Decided::fail);
  CHECK(scope[ScopePart::stated].decided == Decided::undecided);
}

TEST_CASE("required parts are read from words and anything else is refused with near names") {
  CHECK(parse_scope_parts("soundness") == ScopeParts{ScopePart::soundness});
  CHECK(parse_scope_parts("soundness, timing,soundness") == ScopeParts{ScopePart::soundness, ScopePart::timing});
  for (const char* wrong : {"", "soundnes", "soundness,", "all", "pass"}) {
    CAPTURE(wrong);
    CHECK_THROWS_AS(parse_scope_parts(wrong), Error);
  }
}

TEST_CASE("every part that was not asked says how to have it decided") {
  const Scope scope;
  for (const ScopePart part : scope_parts) {
    CHECK(scope[part].decided == Decided::not_asked);
    CHECK_FALSE(scope[part].reason.empty());
    CHECK_FALSE(scope[part].how.empty());
  }
}
