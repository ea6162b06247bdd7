// Writes the reports of the made-up records to build/.../report-looks, to be looked at in a browser.
#include <doctest/doctest.h>

#include <filesystem>

#include "made_up.hpp"
#include "switchwright/report/exporter.hpp"

using namespace switchwright;

TEST_CASE("every format renders every made-up record") {
  const std::filesystem::path folder = std::filesystem::path(BINARY_DIR) / "report-looks";
  std::filesystem::create_directories(folder);
  made_up::Choices good, faulty, several, open;
  good.simulated = true;
  faulty.faults = {"stuck-closed:cycling"};
  several.faults = {"resistive:line=1.9", "drifted:heater=30"};
  several.one_skipped = several.one_unwitnessed = true;
  several.operator_name = several.calibrated = "";
  open.finished = false;
  const std::pair<const char*, made_up::Choices> all[] = {
      {"good", good}, {"faulty", faulty}, {"several", several}, {"unfinished", open}};
  for (const auto& [name, choices] : all) {
    const Record record = made_up::record(choices);
    for (const std::string format : {"text", "html", "json", "csv"}) {
      const auto exporter = make_exporter(format);
      const std::string document = exporter->render(record);
      CHECK(document.size() > 500);
      write_file_durably((folder / (name + exporter->extension())).string(), document);
    }
  }
}
