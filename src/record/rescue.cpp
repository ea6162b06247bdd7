#include "switchwright/record/rescue.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>

#include "switchwright/record/record_json.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

namespace fs = std::filesystem;

namespace {

TimeBase base_of(const Batch& batch) {
  // Times in the file are seconds after the earliest moment in it, with the wall time of that moment beside them.
  if (!batch.readings.empty()) return {batch.readings.front().reading.at.wall, batch.readings.front().reading.at.monotonic};
  if (!batch.indications.empty())
    return {batch.indications.front().indication.from.wall, batch.indications.front().indication.from.monotonic};
  return {};
}

std::vector<fs::path> places(const Store& store) {
  std::vector<fs::path> places{store.path().parent_path()};
  std::error_code ignored;
  places.push_back(fs::temp_directory_path(ignored));
  places.emplace_back("/dev/shm");
  if (const char* home = std::getenv("HOME")) places.emplace_back(home);
  return places;
}

}  // namespace

fs::path write_rescue_file(const Store& store, const std::string& record_id, const Batch& batch) {
  const nlohmann::json document{{"switchwright_rescue", 1}, {"record", record_id}, {"batch", batch_json(batch, base_of(batch))}};
  const std::string text = document.dump(1);
  for (const fs::path& place : places(store)) {
    std::error_code ignored;
    if (place.empty() || !fs::is_directory(place, ignored)) continue;
    fs::path file = place / ("switchwright-rescue-" + record_id + ".json");
    for (int n = 2; fs::exists(file, ignored); ++n)
      file = place / fmt::format("switchwright-rescue-{}-{}.json", record_id, n);
    std::ofstream out{file, std::ios::binary};
    out << text;
    out.close();
    if (out) return file;
    fs::remove(file, ignored);
  }
  throw Error(ErrorKind::store, fmt::format("{} bytes of measurements could be stored nowhere", text.size()), record_id,
              "make room and measure again");
}

std::string restore_rescue_file(Store& store, const fs::path& file) {
  std::ifstream in{file, std::ios::binary};
  if (!in)
    throw Error(ErrorKind::usage, "the rescue file cannot be read", file.string(), "give the file that the message named");
  nlohmann::json document;
  Record parts;
  std::string id;
  try {
    in >> document;
    if (document.at("switchwright_rescue") != 1) throw std::runtime_error("unknown version");
    id = document.at("record").get<std::string>();
    add_batch_to_record(document.at("batch"), parts);
  } catch (const std::exception& error) {
    throw Error(ErrorKind::usage, std::string{"this is not a rescue file: "} + error.what(), file.string());
  }
  Batch batch;
  batch.steps = parts.steps;
  batch.readings = parts.readings;
  batch.indications = parts.indications;
  batch.events = parts.events;
  batch.acknowledgements = parts.acknowledgements;
  batch.leads_before = parts.leads_before;
  batch.leads_after = parts.leads_after;
  batch.verdict = parts.verdict;
  batch.ended = parts.ended;
  batch.trace = parts.trace;
  batch.channels = parts.channels;
  batch.samples = parts.samples;
  batch.results = parts.results;
  if (store.load(id).header.id != id) throw Error(ErrorKind::usage, "no record is called \"" + id + "\"", file.string());
  store.append(id, batch);
  std::error_code ignored;
  fs::rename(file, file.string() + ".restored", ignored);
  return fmt::format("{} readings, {} indications and {} events are back in record {}",
                     batch.readings.size() + batch.samples.size(), batch.indications.size(), batch.events.size(), id);
}

}  // namespace switchwright
