// Every shipped profile as a schematic: nothing on top of anything else, and an XML document for everybody's
// parser.
#include "switchwright/report/schematic.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <set>

#include "outside.hpp"
#include "report/schematic_layout.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;
namespace fs = std::filesystem;

namespace {

std::vector<Profile> library() {
  const std::vector<fs::path> folder{std::string(SOURCE_DIR) + "/profiles"};
  std::vector<Profile> all;
  for (const std::string& id : list_profiles(folder)) all.push_back(load_profile(id, folder));
  return all;
}

std::size_t count(const std::string& text, const std::string& what) {
  std::size_t n = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) ++n;
  return n;
}

}  // namespace

TEST_CASE("no two parts of a schematic share a piece of a row") {
  for (const Profile& profile : library()) {
    CAPTURE(profile.id);
    const auto layout = schematic::layout_of(profile);
    CHECK(layout.parts.size() == profile.contacts.size() + profile.elements.size());
    for (const auto& x : layout.parts)
      for (const auto& y : layout.parts)
        if (&x != &y && x.row == y.row) CHECK((x.right <= y.left || y.right <= x.left));
  }
}

TEST_CASE("every part of a schematic ends at the wires of its own two nodes") {
  for (const Profile& profile : library()) {
    CAPTURE(profile.id);
    const auto layout = schematic::layout_of(profile);
    CHECK(std::set<std::string>(layout.columns.begin(), layout.columns.end()).size() == layout.columns.size());
    for (const auto& part : layout.parts)
      CHECK(Pair(layout.columns[part.left], layout.columns[part.right]) == part.between());
  }
}

TEST_CASE("every schematic is well-formed XML") {
  REQUIRE_PROGRAM("xmllint", "libxml2-utils");
  const fs::path file = fs::temp_directory_path() / ("schematic-" + std::to_string(::getpid()) + ".svg");
  for (const Profile& profile : library())
    for (const Position& position : profile.positions) {
      CAPTURE(profile.id);
      CAPTURE(position.id);
      std::ofstream(file) << schematic_svg(profile, position.id);
      const auto result = outside::run("xmllint --noout " + file.string());
      CHECK_MESSAGE(result.code == 0, result.output);
    }
  fs::remove(file);
}

TEST_CASE("contacts are drawn in the state of the chosen position") {
  const Profile profile = load_profile("regulator-shunt-240", {std::string(SOURCE_DIR) + "/profiles"});
  struct Row {
    const char* position;
    std::size_t open, closed, cycles;
  };
  // From the wiring in the profile: line, pilot and cycling; the cam holds the cycling contact at high.
  for (const Row& row : {Row{"off", 3, 0, 0}, Row{"low", 0, 2, 1}, Row{"high", 0, 3, 0}}) {
    CAPTURE(row.position);
    const std::string svg = schematic_svg(profile, row.position);
    CHECK(count(svg, ">open</text>") == row.open);
    CHECK(count(svg, ">closed</text>") == row.closed);
    CHECK(count(svg, ">closed, cycles</text>") == row.cycles);
  }
}

TEST_CASE("text from a profile stays text in its schematic") {
  Profile profile = load_profile("rocker-lamp", {std::string(SOURCE_DIR) + "/profiles"});
  profile.title = "<script>alert(1)</script> & more";
  const std::string svg = schematic_svg(profile);
  CHECK(svg.find("<script") == std::string::npos);
  CHECK(svg.find("&lt;script&gt;") != std::string::npos);
}

TEST_CASE("a position that the profile does not have is refused with near names") {
  const Profile profile = load_profile("regulator-shunt-240", {std::string(SOURCE_DIR) + "/profiles"});
  CHECK_THROWS_WITH(schematic_svg(profile, "hihg"), doctest::Contains("high"));
}
