#include <fmt/format.h>
#include <unistd.h>

#include <map>

#include "switchwright/record/sha256.hpp"
#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/record_schema.hpp"
#include "report/signature.hpp"
#include "report/view.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/chain.hpp"
#include "switchwright/report/bag.hpp"

namespace switchwright {

namespace {

namespace fs = std::filesystem;

/// Path in the bag to content; sorted, so that two bags of one record have the same manifest.
using Files = std::map<std::string, std::string>;

std::string manifest(const Files& files) {
  std::string lines;
  for (const auto& [path, content] : files) lines += sha256_hex(content) + "  " + path + "\n";
  return lines;
}

Files payload(const Record& record, const std::vector<std::string>& chain) {
  Files files;
  files["data/record.json"] = json_exporter()->render(record);
  files["data/record.schema.json"] = record_schema();
  files["data/readings.csv"] = csv_exporter()->render(record);
  files["data/report.html"] = html_exporter()->render(record);
  for (const std::string& link : chain) files["data/chain.jsonl"] += link + "\n";
  if (const auto& text = record.header.profile_text; !text.empty()) files["data/profile.toml"] = text;
  if (const auto& text = record.header.meter_text; !text.empty()) files["data/meter.toml"] = text;
  return files;
}

std::string bag_info(const Record& record, const Files& data) {
  const RecordHeader& h = record.header;
  std::size_t bytes = 0;
  for (const auto& [path, text] : data) bytes += text.size();
  std::string info = fmt::format(
      "Bag-Software-Agent: switchwright {}\nBagging-Date: {}\nPayload-Oxum: {}.{}\n",
      line_safe(h.tool_version), iso8601(SystemClock().now().wall).substr(0, 10), bytes, data.size());
  const auto line = [&](const char* label, const std::string& value) {
    if (!value.empty()) info += fmt::format("{}: {}\n", label, line_safe(value));
  };
  line("External-Identifier", h.id);
  line("External-Description", View(record).verdict_word() + (h.part.empty() ? "" : ": " + h.part) +
                                   (h.serial.empty() ? "" : ", serial number " + h.serial) +
                                   (h.simulated ? " (simulated, not a real part)" : ""));
  line("Contact-Name", h.operator_name);
  line("Chain-Head", record.chain_head);
  return info;
}

void require_free(const fs::path& folder) {
  std::error_code ignored;
  if (!fs::exists(folder, ignored) || (fs::is_directory(folder, ignored) && fs::is_empty(folder, ignored)))
    return;
  throw Error(ErrorKind::store, "there is something at this place already", folder.string(),
              "name a folder that does not exist yet with -o DIR");
}

}  // namespace

void write_bag(const std::vector<std::string>& chain, const fs::path& folder,
               const std::optional<fs::path>& key) {
  require_free(folder);
  const std::optional<SigningKey> signer = key ? std::optional<SigningKey>(*key) : std::nullopt;

  const Record record = record_from_chain(chain);
  const Files data = payload(record, chain);
  Files tags;
  tags["bagit.txt"] = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
  tags["bag-info.txt"] = bag_info(record, data);
  tags["manifest-sha256.txt"] = manifest(data);
  if (signer) tags["public-key.pem"] = signer->public_pem();
  const std::string tag_manifest = manifest(tags);

  // Written beside its place and renamed, so that there is never half a bag.
  const fs::path target = fs::absolute(folder).lexically_normal();
  const fs::path place = target.has_filename() ? target : target.parent_path();
  const fs::path beside = place.string() + ".part-" + std::to_string(::getpid());
  std::error_code failed;
  fs::create_directories(beside / "data", failed);
  if (failed)
    throw Error(ErrorKind::store, "the folder for the bag cannot be made (" + failed.message() + ")",
                folder.string(), "name a place that you may write with -o DIR");
  try {
    for (const Files& files : {std::cref(data), std::cref(tags)})
      for (const auto& [path, text] : files) write_file_durably((beside / path).string(), text);
    write_file_durably((beside / "tagmanifest-sha256.txt").string(), tag_manifest);
    if (signer)
      write_file_durably((beside / "tagmanifest-sha256.txt.sig").string(), signer->sign(tag_manifest));
    fs::rename(beside, place, failed);
    if (failed)
      throw Error(ErrorKind::store, "the bag cannot be put in its place (" + failed.message() + ")",
                  folder.string(), "name a folder that does not exist yet with -o DIR");
  } catch (...) {
    fs::remove_all(beside, failed);
    throw;
  }
}

}  // namespace switchwright
