// `bag`: seals one record as evidence that can be checked without this tool, or checks such a bag.
#include "switchwright/report/bag.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/secret.hpp"
#include "cli/write_report.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/push.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/archive.hpp"

namespace switchwright::cli {

namespace {

using nlohmann::ordered_json;

void put_json(const ordered_json& line) { put_line(line.dump(-1, ' ', false, ordered_json::error_handler_t::replace)); }

std::optional<std::filesystem::path> file_if_named(const std::string& name) {
  return name.empty() ? std::nullopt : std::optional<std::filesystem::path>{name};
}

/// A private folder, gone afterwards.
class Unpacked {
 public:
  Unpacked() {
    std::string name = (std::filesystem::temp_directory_path() / "switchwright-bag-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr)
      throw Error(ErrorKind::store, "no temporary folder could be made to unpack the archive in", name,
                  "free some space, or set TMPDIR");
    path_ = name;
  }
  ~Unpacked() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Unpacked(const Unpacked&) = delete;
  Unpacked& operator=(const Unpacked&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

BagTrust trust_of(const BagOptions& options) { return {file_if_named(options.by), file_if_named(options.authority)}; }

/// @param use what else is to be done with the bag, where it lies unpacked; called when it is whole.
BagReport check_any(const BagOptions& options, const std::function<void(const std::filesystem::path&)>& use) {
  const auto looked_at = [&](const std::filesystem::path& folder) {
    BagReport found = check_bag(folder, trust_of(options));
    if (found.problems.empty()) use(folder);
    return found;
  };
  std::error_code ignored;
  if (!std::filesystem::is_regular_file(options.check, ignored)) return looked_at(options.check);
  if (!options.timestamp_response.empty())
    throw Error(ErrorKind::usage, "a response goes into a folder, not into an archive", options.check,
                "unpack the bag first, and pack it again afterwards");
  const Unpacked folder;
  return looked_at(unpack_archive(options.check, folder.path()));
}

/// The passphrase of an encrypted key is asked for where somebody can answer.
void ask_passphrase(const std::string& key) {
  if (key.empty() || std::getenv("SWITCHWRIGHT_KEY_PASSPHRASE") != nullptr || !interactive()) return;
  std::ifstream file{key};
  for (std::string line; std::getline(file, line);)
    if (line.find("ENCRYPTED") != std::string::npos) {
      ::setenv("SWITCHWRIGHT_KEY_PASSPHRASE", ask_secret("Passphrase of " + key + ": ").c_str(), 1);
      return;
    }
}

std::string send_words(const std::string& request, const std::string& folder) {
  return "Time-stamp request written to " + request +
         ". Send it to an authority (HTTP POST, Content-Type: application/timestamp-query), then:\n  switchwright bag --check " +
         folder + " --timestamp-response FILE";
}

ordered_json json_of(const BagReport& found) {
  ordered_json line{{"files", found.files}, {"signed", found.is_signed}};
  if (!found.signed_by.empty()) line["signed_by"] = found.signed_by;
  if (!found.chain_head.empty()) line["chain_head"] = found.chain_head;
  if (found.stamped_at)
    line.update({{"stamped_at", iso8601(*found.stamped_at)},
                 {"stamped_by", found.stamped_by},
                 {"stamp_trusted", found.stamp_is_trusted}});
  return line;
}

std::string signature_words(const BagReport& found, bool key_given) {
  if (!found.is_signed) return "Not signed: this shows that nothing changed by accident, not who made it.";
  if (key_given) return "Signed by the key that you named (SHA-256 " + found.signed_by + ").";
  return "Signed with the key that lies in the bag (SHA-256 " + found.signed_by +
         ").\nWhose key that is the bag cannot say: compare the fingerprint with its owner, or name the key with --by FILE.";
}

std::string time_stamp_words(const BagReport& found) {
  return "Time stamp: the bag was there at " + iso8601(*found.stamped_at) + ", says " +
         (found.stamped_by.empty() ? "an authority that names nobody" : found.stamped_by) +
         (found.stamp_is_trusted
              ? "; the authority that you named vouches for it."
              : ".\nWhether that authority is who it says it is was not checked: name its certificate with --authority FILE.");
}

int check(const BagOptions& options) {
  const auto use = [&](const std::filesystem::path& folder) {
    if (!options.timestamp_request.empty()) write_time_stamp_request(folder, options.timestamp_request);
    if (!options.timestamp_response.empty())
      attach_time_stamp(folder, options.timestamp_response, file_if_named(options.authority));
  };
  BagReport found;
  if (options.timestamp_response.empty()) {
    found = check_any(options, use);
  } else {
    // The authority vouches for what is to be put in; the bag as it is has nothing of it yet.
    BagOptions before = options;
    before.authority.clear();
    found = check_any(before, use);
    if (found.problems.empty()) found = check_bag(options.check, trust_of(options), false);
  }
  const bool whole = found.problems.empty();
  if (options.json) {
    ordered_json line{{"type", "bag"}, {"folder", options.check}, {"whole", whole}, {"problems", found.problems}};
    if (!found.cautions.empty()) line["cautions"] = found.cautions;
    line.update(json_of(found));
    put_json(line);
    return whole ? 0 : 5;
  }
  for (const std::string& problem : found.problems) put_line(terminal_safe(problem));
  if (!whole) {
    put_line(fmt::format("\nNot whole: {} problem{}. Do not rely on this bag; ask for it again from its source.",
                         found.problems.size(), found.problems.size() == 1 ? "" : "s"));
    return 5;
  }
  put_line(fmt::format("Whole: {} payload files and the chain of the record agree with their hashes.", found.files));
  for (const std::string& caution : found.cautions) put_line("But " + terminal_safe(caution));
  put_line(signature_words(found, !options.by.empty()));
  if (found.stamped_at) put_line(time_stamp_words(found));
  put_line("Chain head " + found.chain_head);
  if (!options.timestamp_request.empty()) put_line(send_words(options.timestamp_request, options.check));
  return 0;
}

int seal(const BagOptions& options) {
  if (options.output.empty())
    throw Error(ErrorKind::usage, "no folder is named for the bag", "", "name one that does not exist yet with -o DIR");
  ask_passphrase(options.key);
  const Store store{store_place(options.store)};
  const RecordHeader header = load_whole_record(store, options.id).header;
  const std::string& id = header.id;
  if (!facts_of(header.kind).is_evidence)
    throw Error(ErrorKind::usage, "record " + id + " is practice: no part was tested, so it is no evidence",
                store.path().string(), "seal a record of real work");
  BagSettings settings{file_if_named(options.key), std::nullopt, std::nullopt};
  if (!options.without_pdf) settings.paper = paper_if_printable(options.paper == "letter" ? Paper::letter : Paper::a4);
  // Files stay with the bench that attached them; a server has their hashes.
  if (!options.without_attachments && !names_server(store.path().string())) settings.store = store.path();
  write_bag([&](const auto& take) { store.each_link(id, take); }, options.output, settings);
  // Read back from the disk: what is handed on is what was checked.
  const BagReport made = check_bag(options.output, {}, false);
  if (!made.problems.empty())
    throw Error(ErrorKind::store, "the bag does not check after it was written: " + made.problems.front(),
                options.output, "check the disk, remove the folder and try again");
  if (!options.timestamp_request.empty()) write_time_stamp_request(options.output, options.timestamp_request);
  const bool printed = settings.paper.has_value();
  if (options.json) {
    ordered_json line{{"type", "bag"}, {"record", id}, {"folder", options.output}, {"pdf", printed}};
    if (!made.cautions.empty()) line["cautions"] = made.cautions;
    line.update(json_of(made));
    put_json(line);
    return 0;
  }
  put_line(fmt::format("Record {} is sealed in {} ({} payload files).", id, options.output, made.files));
  if (!printed && !options.without_pdf) put_line("Without report.pdf: the Debian package weasyprint is not installed.");
  for (const std::string& caution : made.cautions) put_line("Note: " + terminal_safe(caution));
  put_line(made.is_signed ? "Signed; SHA-256 of the public key: " + made.signed_by
                          : "Not signed: with --key FILE a change by somebody else shows too "
                            "(make a key with: switchwright keys new FILE).");
  put_line(
      "Anybody can check it: cd " + options.output + " && sha256sum -c manifest-sha256.txt tagmanifest-sha256.txt" +
      (made.is_signed ? " &&\n  openssl pkeyutl -verify -pubin -inkey public-key.pem -rawin -in tagmanifest-sha256.txt "
                        "-sigfile tagmanifest-sha256.txt.sig"
                      : ""));
  if (!options.timestamp_request.empty()) put_line(send_words(options.timestamp_request, options.output));
  return 0;
}

}  // namespace

int run(const BagOptions& options) {
  if (options.check.empty() == options.id.empty())
    throw Error(ErrorKind::usage,
                options.id.empty() ? "neither a record to seal nor a bag to check is named"
                                   : "a record to seal and a bag to check are both named",
                "", "write bag RECORD -o DIR, or bag --check DIR");
  return options.check.empty() ? seal(options) : check(options);
}

}  // namespace switchwright::cli
