// Pictures are well-formed XML that shows what was found. How they look was judged by eye, in a browser, on
// light and dark ground, for 10 and for 10,000 cycles.
#include "switchwright/report/cycle_picture.hpp"

#include <doctest/doctest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "cycle/series.hpp"
#include "skip.hpp"

using namespace switchwright;
using namespace switchwright::testing;

namespace {

std::string drawn(const std::vector<Sample>& samples, const std::string& name = "load") {
  Survey survey;
  for (const Sample& sample : samples) survey.feed(sample);
  PictureMaker maker(name, "V", survey);
  Analyzer analyzer(survey.result(), {}, &maker);
  for (const Sample& sample : samples) {
    maker.on_sample(sample);
    analyzer.feed(sample);
  }
  return maker.whole_svg(analyzer.finish());
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("pictures are well-formed whatever the series") {
  if (test::is_missing("xmllint", "libxml2-utils")) return;
  auto over = sampled(cycling(5, 8, 12), 0.25);
  for (std::size_t i = 0; i < over.size(); i += 3) over[i].kind = SampleKind::over_range;
  auto corrupt = sampled(cycling(5, 8, 12), 0.25);
  corrupt[50].value = 1e9;
  const std::vector<std::pair<const char*, std::vector<Sample>>> rows{
      {"nothing", {}},
      {"one sample", {{0, 1}}},
      {"one stamp", {{5, 1}, {5, 2}, {5, 1}}},
      {"always on", sampled({{60, 230}}, 0.5)},
      {"ten cycles", sampled(cycling(10, 8, 12), 0.25)},
      {"two thousand cycles", sampled(cycling(2000, 8, 12), 0.5)},
      {"over-range", over},
      {"corrupt value", corrupt},
  };
  const auto path =
      std::filesystem::temp_directory_path() / ("switchwright_picture_" + std::to_string(::getpid()) + ".svg");
  for (const auto& row : rows) {
    CAPTURE(row.first);
    const std::string svg = drawn(row.second, "a <b> & \"c\" \x01");
    std::ofstream(path) << svg;
    CHECK(std::system(("xmllint --noout " + path.string()).c_str()) == 0);
    CHECK_FALSE(has(svg, "nan"));
    CHECK_FALSE(has(svg, "inf\""));
    CHECK(svg.size() < 400000);
  }
  std::filesystem::remove(path);
}

TEST_CASE("a picture names levels and cycles and axes with their units") {
  const std::string svg = drawn(sampled(cycling(10, 8, 12), 0.25));
  for (const char* part : {"10 complete cycles", "time since start (s)", "value (V)", "230 V", "115 V", "50 %",
                           "period (s)", ">duty<", "samples (logarithmic)", "prefers-color-scheme:dark"}) {
    CAPTURE(part);
    CHECK(has(svg, part));
  }
}

TEST_CASE("a lone excursion is not lost in a long trace") {
  // One sample of a million at a third of the range above the level: its column must reach up to it.
  std::vector<Sample> samples = sampled(cycling(2000, 8, 12, 100), 0.25);
  const std::string without = drawn(samples);
  samples[81234].value = 200;
  CHECK(drawn(samples) != without);
}

TEST_CASE("the unit of a channel is read from its name") {
  CHECK(unit_in("load (V)") == "V");
  CHECK(unit_in("power_w") == "W");
  CHECK(unit_in("current [mA]") == "mA");
  CHECK(unit_in("load").empty());
}
