// A sealed folder of evidence: a BagIt bag (RFC 8493) that `sha256sum -c` checks and, when it is signed,
// `openssl pkeyutl -verify` too. Nobody needs this tool to check one.
//
//   bagit.txt  bag-info.txt  manifest-sha256.txt  tagmanifest-sha256.txt  tagmanifest-sha256.txt.sig
//   public-key.pem data/record.json  data/record.schema.json  data/readings.csv  data/report.html
//   data/chain.jsonl data/profile.toml  data/meter.toml
//
// The signature is over tagmanifest-sha256.txt, which names every other file by its hash, directly or through
// manifest-sha256.txt; only the signature itself stands in no manifest (RFC 8493 2.2.1 lets a tag manifest
// leave tag files out).
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "switchwright/record/chain.hpp"

namespace switchwright {

/// Writes the bag of one record; `folder` must not exist yet, or be empty. It appears whole or not at all.
/// @param chain what Store::each_link() gives; everything in the bag is made from it.
/// @param key PEM file with an Ed25519 private key, to sign with.
/// @throws Error(store) when it cannot be written or the chain is broken; Error(usage) for a key that is no
/// Ed25519 private key.
void write_bag(const EachLink& chain, const std::filesystem::path& folder,
               const std::optional<std::filesystem::path>& key = std::nullopt);

/// What a check found.
struct BagReport {
  std::vector<std::string> problems;  ///< one sentence each; empty: the bag is whole
  bool is_signed = false;             ///< there is a signature, and it fits the key
  std::string signed_by;              ///< SHA-256 of the public key (its DER form), hex; empty when not signed
  std::string chain_head;             ///< recomputed from data/chain.jsonl; empty when there is none
  std::size_t files = 0;              ///< payload files checked
};

/// Checks structure, every hash, files that nobody named, the chain, the record's own head against it, and
/// the signature.
/// @param trusted public key (PEM) that must have signed; nothing: the key that lies in the bag, which proves
/// only that the bag was not changed by somebody without that key.
/// @throws Error(store) when `folder` cannot be read; Error(usage) for a key that is no Ed25519 public key.
BagReport check_bag(const std::filesystem::path& folder,
                    const std::optional<std::filesystem::path>& trusted = std::nullopt);

}  // namespace switchwright
