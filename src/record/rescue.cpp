#include "switchwright/record/rescue.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>

#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright {

namespace fs = std::filesystem;
using nlohmann::json;

namespace {

std::vector<fs::path> places(const Store& store) {
  std::error_code ignored;
  std::vector<fs::path> places{fs::absolute(store.path(), ignored).parent_path()};
  places.push_back(fs::temp_directory_path(ignored));
  places.emplace_back("/dev/shm");
  if (const char* home = std::getenv("HOME")) places.emplace_back(home);
  return places;
}

Error no_rescue_file(const std::string& why, const fs::path& file) {
  return {ErrorKind::usage, "this is not a rescue file: " + why, file.string(), "give the file that the message named"};
}

/// Version 1, of older versions of this program: one document with the batch that could not be stored.
std::string restore_batch(Store& store, const json& document, const fs::path& file) {
  Batch batch;
  std::string id;
  try {
    id = document.at("record").get<std::string>();
    add_batch_json(document.at("batch"), Wall{}, batch);  // it has seconds from the start beside its times
  } catch (const std::exception& error) {
    throw no_rescue_file(error.what(), file);
  }
  const Record there = store.load(id);
  if (there.header.id != id) throw Error(ErrorKind::usage, "no record is called \"" + id + "\"", file.string());
  if (there.verdict && batch.verdict)
    throw Error(ErrorKind::usage, "record " + id + " has its verdict already", file.string(),
                "keep the file beside it");
  store.append(id, batch);
  return fmt::format("{} readings, {} indications and {} events are back in record {}",
                     batch.readings.size() + batch.samples.size(), batch.indications.size(), batch.events.size(), id);
}

/// Version 2: a line that says so, then links of the chain.
std::string restore_links(Store& store, std::istream& in, const std::string& id) {
  std::vector<std::string> links;
  for (std::string line; std::getline(in, line);)
    if (!line.empty()) links.push_back(line);
  const Store::Restored done = store.restore(links);
  return fmt::format("{} batches are back in record {}{}", done.added, id,
                     done.already_there == 0 ? "" : fmt::format("; {} were there already", done.already_there));
}

}  // namespace

Rescued write_rescue_file(const Store& store, const std::string& record_id, const Batch& batch, bool whole) {
  std::string why = "no place was found";
  for (const fs::path& place : places(store)) {
    std::error_code ignored;
    if (place.empty() || !fs::is_directory(place, ignored)) continue;
    fs::path file = place / ("switchwright-rescue-" + record_id + ".json");
    for (int n = 2; fs::exists(file, ignored); ++n)
      file = place / fmt::format("switchwright-rescue-{}-{}.json", record_id, n);
    try {
      DurableFile out(file.string());
      out.write(json{{"switchwright_rescue", 2}, {"record", record_id}}.dump() + "\n");
      const bool complete = store.links_to_rescue(record_id, batch, whole, [&](std::string_view link) {
        out.write(link);
        out.write("\n");
      });
      out.keep();
      return {file, complete};
    } catch (const Error& error) {
      why = error.what_happened();
    }
  }
  throw Error(ErrorKind::store, "what was measured could be stored nowhere: " + why, record_id,
              "make room and measure again");
}

std::string restore_rescue_file(Store& store, const fs::path& file) {
  std::ifstream in{file, std::ios::binary};
  if (!in)
    throw Error(ErrorKind::usage, "the rescue file cannot be read", file.string(),
                "give the file that the message named");
  std::string said;
  try {
    std::string first;
    std::getline(in, first);
    const json head = json::parse(first, nullptr, false);
    if (head.is_object() && head.value("switchwright_rescue", 0) == 2) {
      said = restore_links(store, in, head.at("record").get<std::string>());
    } else {
      in.clear();
      in.seekg(0);
      const json document = json::parse(in);
      if (document.at("switchwright_rescue") != 1) throw std::runtime_error("unknown version");
      said = restore_batch(store, document, file);
    }
  } catch (const Error&) {
    throw;
  } catch (const std::exception& error) {
    throw no_rescue_file(error.what(), file);
  }
  std::error_code ignored;
  fs::rename(file, file.string() + ".restored", ignored);
  return said;
}

}  // namespace switchwright
