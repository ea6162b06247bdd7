#include "switchwright/report/keys.hpp"

#include <fstream>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/secret.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::cli {

namespace {

std::string passphrase_of(const KeysOptions& options) {
  if (!options.passphrase_file.empty()) {
    std::ifstream file{options.passphrase_file};
    std::string line;
    if (!std::getline(file, line) || line.empty())
      throw Error(ErrorKind::usage, "the passphrase file is missing or empty", options.passphrase_file,
                  "write the passphrase on its first line");
    return line;
  }
  if (!options.ask_passphrase) return {};
  if (!interactive())
    throw Error(ErrorKind::usage, "a passphrase cannot be asked for without a terminal", "--passphrase",
                "take --passphrase-file FILE");
  const std::string first = ask_secret("Passphrase: ");
  if (first.empty() || ask_secret("Once more: ") != first)
    throw Error(ErrorKind::usage, "the passphrases are empty or differ, so no key was made", options.file,
                "start again");
  return first;
}

}  // namespace

int run(const KeysOptions& options) {
  const std::string fingerprint = make_signing_key(options.file, passphrase_of(options));
  put_line("Private key   " + options.file +
           " (readable by you alone; keep it off the bench's shares, and keep a copy)");
  put_line("Public key    " + public_half(options.file).string() + " (give it to whoever checks your bags)");
  put_line("Fingerprint   SHA-256 " + fingerprint);
  put_line("Tell the fingerprint by telephone or on paper: a bag shows the same one when it is checked.");
  return 0;
}

}  // namespace switchwright::cli
