// The worked example of meters/README.md is run as it stands there.
#include <doctest/doctest.h>

#include <fstream>
#include <iterator>

#include "decoder_bench.hpp"

using namespace switchwright;
using namespace switchwright::test;

namespace {

/// The first block of the README that is fenced as `language`.
std::string block(const std::string& language) {
  std::ifstream file(std::string(SOURCE_DIR) + "/meters/README.md");
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  const std::string fence = "```" + language + "\n";
  const std::size_t from = text.find(fence);
  REQUIRE(from != std::string::npos);
  const std::size_t first = from + fence.size();
  return text.substr(first, text.find("```", first) - first);
}

}  // namespace

TEST_CASE("the worked example of the README decodes the lines that it shows") {
  const MeterDefinition definition = parse_meter_definition(block("toml"), "ohm-line.toml");
  CHECK(definition.id == "ohm-line");
  CHECK(text_of(decode(*make_decoder(definition), block("text"))) ==
        "resistance 0.47 step 0.01; resistance 4700 step 1; resistance over-range; voltage-ac 230.1 step 0.1");
}

TEST_CASE("the README names every shipped definition") {
  std::ifstream file(std::string(SOURCE_DIR) + "/meters/README.md");
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  for (const std::string& id : list_meter_definitions(shipped())) {
    INFO(id);
    CHECK(text.find("| `" + id + "` |") != std::string::npos);
  }
  for (const std::string& kind : decoder_kinds()) {
    INFO(kind);
    CHECK(text.find("`" + kind + "`") != std::string::npos);
  }
}
