#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/bag_files.hpp"
#include "report/signature.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/chain.hpp"
#include "switchwright/record/sha256.hpp"
#include "switchwright/report/bag.hpp"

namespace switchwright {

namespace {

namespace fs = std::filesystem;

/// What a manifest says of a file that was written.
struct Written {
  std::string path;
  std::string sha256;
  std::size_t bytes = 0;
};

Written write_into(const fs::path& folder, const BagFile& file) {
  Written written{file.path, {}, 0};
  Sha256 digest;
  DurableFile out((folder / file.path).string());
  file.write([&](std::string_view piece) {
    out.write(piece);
    digest.add(piece);
    written.bytes += piece.size();
  });
  out.keep();
  written.sha256 = digest.hex();
  return written;
}

std::string manifest(const std::vector<Written>& files) {
  std::string lines;
  for (const Written& file : files) lines += file.sha256 + "  " + file.path + "\n";
  return lines;
}

std::string bag_info(const Record& record, const std::vector<Written>& data, std::size_t omitted) {
  std::size_t bytes = 0;
  for (const Written& file : data) bytes += file.bytes;
  std::string info = fmt::format("Bag-Software-Agent: switchwright {}\nBagging-Date: {}\nPayload-Oxum: {}.{}\n",
                                 line_safe(record.header.tool_version), iso8601(SystemClock().now().wall).substr(0, 10),
                                 bytes, data.size());
  for (const auto& [label, value] : bag_labels(record)) info += fmt::format("{}: {}\n", label, value);
  info += fmt::format("{}: {}\n", bag_layout_label, newest_bag_layout);
  if (omitted > 0) info += fmt::format("{}: {}\n", attachments_omitted, omitted);
  return info;
}

/// Sorted by path, so that two bags of one record have the same manifest.
std::vector<BagFile> all_files(const Record& record, const EachLink& chain, const BagSettings& settings) {
  std::vector<BagFile> files = bag_payload(record, chain);
  if (settings.paper)
    files.push_back({printed_report, [&record, paper = *settings.paper](const DocumentSink& sink) {
                       sink(make_exporter("pdf", paper)->render(record));
                     }});
  if (settings.store)
    for (const BagAttachment& one : bag_attachments(record))
      files.push_back({one.path, [one, store = *settings.store](const DocumentSink& sink) {
                         sink(attachment_content(store, one.attachment));
                       }});
  std::sort(files.begin(), files.end(), [](const BagFile& a, const BagFile& b) { return a.path < b.path; });
  return files;
}

void require_free(const fs::path& folder) {
  std::error_code ignored;
  if (!fs::exists(folder, ignored) || (fs::is_directory(folder, ignored) && fs::is_empty(folder, ignored))) return;
  throw Error(ErrorKind::store, "there is something at this place already", folder.string(),
              "name a folder that does not exist yet with -o DIR");
}

}  // namespace

std::optional<Paper> paper_if_printable(Paper paper) {
  try {
    make_exporter("pdf", paper)->require_possible();
    return paper;
  } catch (const Error&) {
    return std::nullopt;
  }
}

void write_bag(const EachLink& chain, const fs::path& folder, const BagSettings& settings) {
  require_free(folder);
  const std::optional<SigningKey> signer = settings.key ? std::optional<SigningKey>(*settings.key) : std::nullopt;
  if (settings.paper) make_exporter("pdf", *settings.paper)->require_possible();

  const Record record = record_from_chain(chain);
  // Written beside its place and renamed, so that there is never half a bag.
  const fs::path target = fs::absolute(folder).lexically_normal();
  const fs::path place = target.has_filename() ? target : target.parent_path();
  const fs::path beside = place.string() + ".part-" + std::to_string(::getpid());
  std::error_code failed;
  fs::create_directories(beside / "data", failed);
  if (!failed && settings.store && !bag_attachments(record).empty())
    fs::create_directory(beside / "data/attachments", failed);
  if (failed)
    throw Error(ErrorKind::store, "the folder for the bag cannot be made (" + failed.message() + ")", folder.string(),
                "name a place that you may write with -o DIR");
  try {
    std::vector<Written> data;
    for (const BagFile& file : all_files(record, chain, settings)) data.push_back(write_into(beside, file));
    const std::size_t omitted = settings.store ? 0 : bag_attachments(record).size();
    std::vector<std::pair<std::string, std::string>> texts{
        {"bag-info.txt", bag_info(record, data, omitted)},
        {"bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"},
        {"manifest-sha256.txt", manifest(data)}};
    if (signer) texts.emplace_back("public-key.pem", signer->public_pem());
    std::vector<Written> tags;
    for (const auto& [path, text] : texts)
      tags.push_back(write_into(beside, {path, [&content = text](const DocumentSink& sink) { sink(content); }}));
    const std::string tags_manifest = manifest(tags);
    write_file_durably((beside / "tagmanifest-sha256.txt").string(), tags_manifest);
    if (signer) write_file_durably((beside / "tagmanifest-sha256.txt.sig").string(), signer->sign(tags_manifest));
    fs::rename(beside, place, failed);
    if (failed)
      throw Error(ErrorKind::store, "the bag cannot be put in its place (" + failed.message() + ")", folder.string(),
                  "name a folder that does not exist yet with -o DIR");
  } catch (...) {
    fs::remove_all(beside, failed);
    throw;
  }
}

}  // namespace switchwright
