// `bag`: seals one record as evidence that can be checked without this tool, or checks such a bag.
#include "switchwright/report/bag.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/secret.hpp"
#include "cli/write_report.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
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

BagReport check_any(const BagOptions& options) {
  std::error_code ignored;
  if (!std::filesystem::is_regular_file(options.check, ignored))
    return check_bag(options.check, file_if_named(options.by));
  const Unpacked folder;
  return check_bag(unpack_archive(options.check, folder.path()), file_if_named(options.by));
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

int check(const BagOptions& options) {
  const BagReport found = check_any(options);
  const bool whole = found.problems.empty();
  if (options.json) {
    ordered_json line{{"type", "bag"},        {"folder", options.check},
                      {"whole", whole},       {"problems", found.problems},
                      {"files", found.files}, {"signed", found.is_signed}};
    if (!found.signed_by.empty()) line["signed_by"] = found.signed_by;
    if (!found.chain_head.empty()) line["chain_head"] = found.chain_head;
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
  if (!found.is_signed)
    put_line("Not signed: this shows that nothing changed by accident, not who made it.");
  else if (options.by.empty())
    put_line("Signed with the key that lies in the bag (SHA-256 " + found.signed_by +
             ").\nWhose key that is the bag cannot say: compare the fingerprint with its owner, or name the "
             "key with --by FILE.");
  else
    put_line("Signed by the key that you named (SHA-256 " + found.signed_by + ").");
  put_line("Chain head " + found.chain_head);
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
  write_bag([&](const auto& take) { store.each_link(id, take); }, options.output, file_if_named(options.key));
  const BagReport made = check_bag(options.output);  // read back from the disk: what is handed on is what was checked
  if (!made.problems.empty())
    throw Error(ErrorKind::store, "the bag does not check after it was written: " + made.problems.front(),
                options.output, "check the disk, remove the folder and try again");
  if (options.json) {
    ordered_json line{{"type", "bag"},
                      {"record", id},
                      {"folder", options.output},
                      {"files", made.files},
                      {"signed", made.is_signed},
                      {"chain_head", made.chain_head}};
    if (made.is_signed) line["signed_by"] = made.signed_by;
    put_json(line);
    return 0;
  }
  put_line(fmt::format("Record {} is sealed in {} ({} payload files).", id, options.output, made.files));
  put_line(made.is_signed ? "Signed; SHA-256 of the public key: " + made.signed_by
                          : "Not signed: with --key FILE a change by somebody else shows too "
                            "(make a key with: switchwright keys new FILE).");
  put_line(
      "Anybody can check it: cd " + options.output + " && sha256sum -c manifest-sha256.txt tagmanifest-sha256.txt" +
      (made.is_signed ? " &&\n  openssl pkeyutl -verify -pubin -inkey public-key.pem -rawin -in tagmanifest-sha256.txt "
                        "-sigfile tagmanifest-sha256.txt.sig"
                      : ""));
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
