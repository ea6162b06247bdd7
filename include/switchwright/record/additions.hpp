// What is added to a record after its work: notes and files. Both are events of the chain, so they can be added and never
// edited; a file's content lies beside the store under its SHA-256, which the chain names.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

// Kinds of events. On disk: do not change.
inline constexpr const char* note_event = "note";
inline constexpr const char* attachment_event = "attachment";

struct AddedNote {
  Wall at{};
  std::string who;
  std::string text;
};
struct Attachment {
  Wall at{};
  std::string who;
  std::string name;  ///< without folders
  std::uint64_t bytes = 0;
  std::string sha256;
};

EventRow event_of(const AddedNote& note);
EventRow event_of(const Attachment& attachment);
/// In order. An event that cannot be read as one is left to the list of events.
std::vector<AddedNote> notes_in(const Record& record);
std::vector<Attachment> attachments_in(const Record& record);

/// Where the content of an attachment lies.
std::filesystem::path attachment_place(const std::filesystem::path& store, const std::string& sha256);
/// Copies a file to its place beside the store. @throws Error(usage) for what is no file or too large; Error(store).
Attachment keep_file(const std::filesystem::path& store, const std::filesystem::path& file, const std::string& who,
                     Wall at);
/// @throws Error(store) when it is missing or not what was attached.
std::string attachment_content(const std::filesystem::path& store, const Attachment& attachment);

}  // namespace switchwright
