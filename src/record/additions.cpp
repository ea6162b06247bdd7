#include "switchwright/record/additions.hpp"

#include <fmt/format.h>

#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

namespace {

using nlohmann::json;
namespace fs = std::filesystem;

constexpr std::uintmax_t most_bytes = 64ULL << 20;

EventRow event(Wall at, const char* kind, const json& told) {
  return {at, kind, told.dump(-1, ' ', false, json::error_handler_t::replace)};
}

template <class Take>
void each(const Record& record, const char* kind, const Take& take) {
  for (const EventRow& row : record.events) {
    if (row.kind != kind) continue;
    const json told = json::parse(row.text, nullptr, false);
    if (told.is_object()) take(row.at, told);
  }
}

std::string content_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

EventRow event_of(const AddedNote& note) { return event(note.at, note_event, {{"by", note.who}, {"text", note.text}}); }

EventRow event_of(const Attachment& a) {
  return event(a.at, attachment_event, {{"by", a.who}, {"name", a.name}, {"bytes", a.bytes}, {"sha256", a.sha256}});
}

std::vector<AddedNote> notes_in(const Record& record) {
  std::vector<AddedNote> notes;
  each(record, note_event, [&](Wall at, const json& told) {
    notes.push_back({at, told.value("by", ""), told.value("text", "")});
  });
  return notes;
}

std::vector<Attachment> attachments_in(const Record& record) {
  std::vector<Attachment> all;
  each(record, attachment_event, [&](Wall at, const json& told) {
    Attachment a{at, told.value("by", ""), fs::path(told.value("name", "")).filename().string(),
                 told.value("bytes", std::uint64_t{0}), told.value("sha256", "")};
    const bool hash = a.sha256.size() == 64 && a.sha256.find_first_not_of("0123456789abcdef") == std::string::npos;
    if (hash && !a.name.empty() && a.name != "." && a.name != "..") all.push_back(std::move(a));
  });
  return all;
}

fs::path attachment_place(const fs::path& store, const std::string& sha256) {
  return fs::path(store.string() + ".attachments") / sha256;
}

Attachment keep_file(const fs::path& store, const fs::path& file, const std::string& who, Wall at) {
  std::error_code failed;
  if (!fs::is_regular_file(file, failed))
    throw Error(ErrorKind::usage, "this is no file that can be attached", file.string(), "name a photo or a document");
  const auto bytes = fs::file_size(file, failed);
  if (failed || bytes > most_bytes)
    throw Error(ErrorKind::usage,
                fmt::format("this file has {} MiB; at most {} are attached", bytes >> 20, most_bytes >> 20),
                file.string(), "make it smaller first");
  const std::string content = content_of(file);
  if (content.size() != bytes)
    throw Error(ErrorKind::usage, "this file cannot be read whole", file.string(), "check that you may read it");
  Attachment attachment{at, who, file.filename().string(), content.size(), sha256_hex(content)};
  const fs::path place = attachment_place(store, attachment.sha256);
  fs::create_directories(place.parent_path(), failed);
  if (failed)
    throw Error(ErrorKind::store, "the folder for attachments cannot be made (" + failed.message() + ")",
                place.parent_path().string(), "check that you may write beside the store");
  if (!fs::exists(place)) write_file_durably(place.string(), content);
  return attachment;
}

std::string attachment_content(const fs::path& store, const Attachment& attachment) {
  const fs::path place = attachment_place(store, attachment.sha256);
  std::string content = content_of(place);
  if (sha256_hex(content) != attachment.sha256)
    throw Error(
        ErrorKind::store,
        "the attachment " + terminal_safe(attachment.name) + (fs::exists(place) ? " was changed" : " is missing"),
        place.string(), "put the original file back there; its SHA-256 is the name of the place");
  return content;
}

}  // namespace switchwright
