// A sealed folder of evidence: a BagIt bag (RFC 8493) that `sha256sum -c` checks and, when it is signed,
// `openssl pkeyutl -verify` too. Nobody needs this tool to check one.
//
//   bagit.txt  bag-info.txt  manifest-sha256.txt  tagmanifest-sha256.txt  tagmanifest-sha256.txt.sig  public-key.pem
//   data/chain.jsonl  data/record.json  data/record.schema.json  data/report.html  data/report.pdf
//   data/profile.toml  data/meter.toml  data/attachments/01-NAME
//   data/results.csv (judged)  data/readings.csv (as they came); of a trace data/trace.csv  data/cycles.csv
//
// The signature is over tagmanifest-sha256.txt, which names every other file by its hash, directly or through
// manifest-sha256.txt; only the signature itself stands in no manifest (RFC 8493 2.2.1 lets a tag manifest
// leave tag files out). A time stamp (RFC 3161) of tagmanifest-sha256.txt may lie beside it as tagmanifest-sha256.txt.tsr; whoever
// has its authority's certificate checks it with `openssl ts -verify`.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/record/chain.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {

struct BagSettings {
  std::optional<std::filesystem::path> key;    ///< PEM file with an Ed25519 private key, to sign with
  std::optional<Paper> paper;                  ///< of report.pdf; nothing: the bag is made without it
  std::optional<std::filesystem::path> store;  ///< beside it lie the attachments; nothing: sealed without them
};

/// The paper, when a PDF can be made on this machine.
std::optional<Paper> paper_if_printable(Paper paper);

/// Writes the bag of one record; `folder` must not exist yet, or be empty. It appears whole or not at all.
/// @param chain what Store::each_link() gives; everything in the bag but attachments is made from it.
/// @throws Error(store) when it cannot be written, the chain is broken, or an attachment is missing or changed; Error(usage)
/// for a key that is no Ed25519 private key, and for a PDF that cannot be made here.
void write_bag(const EachLink& chain, const std::filesystem::path& folder, const BagSettings& settings = {});

/// What a check found.
struct BagReport {
  std::vector<std::string> problems;  ///< one sentence each; empty: the bag is whole
  std::vector<std::string> cautions;  ///< what could not be held against the chain, and why; only hashes vouch for it
  bool is_signed = false;             ///< there is a signature, and it fits the key
  std::string signed_by;              ///< SHA-256 of the public key (its DER form), hex; empty when not signed
  std::string chain_head;             ///< recomputed from data/chain.jsonl; empty when there is none
  std::size_t files = 0;              ///< payload files checked
  std::optional<Wall> stamped_at;     ///< there is a time stamp of this very bag, and it tells this time
  std::string stamped_by;             ///< who says so, as its certificate names it
  bool stamp_is_trusted = false;      ///< the given authority vouches for it
};

/// Whom the reader of a bag trusts; each may be nothing.
struct BagTrust {
  /// Public key (PEM) that must have signed. Nothing: the key that lies in the bag, which proves only that the bag was not
  /// changed by somebody without that key.
  std::optional<std::filesystem::path> key;
  /// Certificates (PEM) of the authority that must have stamped the time.
  std::optional<std::filesystem::path> authority;
};

/// Checks structure, every hash, files that nobody named, the chain, everything that it makes against it, and the
/// signature.
/// @param print_again prints report.pdf once more to compare it; without, only its hash is checked.
/// @throws Error(store) when `folder` cannot be read; Error(usage) for a key that is no Ed25519 public key, and for what is no
/// certificate.
BagReport check_bag(const std::filesystem::path& folder, const BagTrust& trust = {}, bool print_again = true);

/// What a time-stamp authority is sent: RFC 3161, DER, SHA-256 of the bag's tag manifest, its certificate asked for.
void write_time_stamp_request(const std::filesystem::path& bag, const std::filesystem::path& request);
/// Puts its answer into the bag. @throws Error(store) when it does not stamp this very bag.
void attach_time_stamp(const std::filesystem::path& bag, const std::filesystem::path& response,
                       const std::optional<std::filesystem::path>& authority = std::nullopt);

// Names in a bag that are fixed. On disk: do not change.
inline constexpr const char* bag_signature = "tagmanifest-sha256.txt.sig";
inline constexpr const char* bag_key = "public-key.pem";
inline constexpr const char* bag_time_stamp = "tagmanifest-sha256.txt.tsr";

}  // namespace switchwright
