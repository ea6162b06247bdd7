#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "core/escape.hpp"
#include "report/bag_files.hpp"
#include "report/bagit.hpp"
#include "report/signature.hpp"
#include "report/timestamp.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/canonical.hpp"
#include "switchwright/record/chain.hpp"
#include "switchwright/report/bag.hpp"

namespace switchwright {

namespace {

namespace fs = std::filesystem;

class Check {
 public:
  Check(const fs::path& folder, const BagTrust& trust, bool print_again)
      : folder_(folder), trust_(trust), print_again_(print_again) {}

  BagReport run() {
    bagit_ = check_bagit(folder_, {tag_manifest, bag_signature, bag_time_stamp});
    report_.files = bagit_.payload.size();
    for (const std::string& sentence : bagit_.problems) problem(sentence);
    signature();
    chain();
    time_stamp();
    // What another version of this program rendered may differ by a word; whose key vouches for it need not be doubted.
    if (!(trust_.key && report_.is_signed)) {
      for (const std::string& sentence : rendered_otherwise_) problem(sentence);
      for (const std::string& sentence : not_compared_) report_.cautions.push_back(line_safe(sentence));
    }
    return std::move(report_);
  }

 private:
  void problem(const std::string& sentence) { report_.problems.push_back(line_safe(sentence)); }
  bool there(const std::string& path) const { return is_bag_file(folder_ / path); }

  /// Follows the chain, then makes everything anew that the bag should hold, and compares.
  void chain() {
    if (!there("data/chain.jsonl"))
      return problem("data/chain.jsonl is missing, so the record cannot be followed back.");
    try {
      const EachLink links = [file =
                                  folder_ / "data/chain.jsonl"](const std::function<void(const std::string&)>& take) {
        std::ifstream in(file, std::ios::binary);
        for (std::string line; std::getline(in, line);) {
          if (!line.empty() && line.back() == '\r') line.pop_back();
          if (!line.empty()) take(line);
        }
      };
      const Record record = record_from_chain(links);
      report_.chain_head = record.chain_head;
      std::set<std::string> meant = payload(record, links);
      attachments(record, meant);
      printed(record, meant);
      for (const std::string& path : bagit_.payload)
        if (!meant.contains(path)) problem("the file " + path + " is in no bag of a record: it was added.");
      labels(record);
    } catch (const Error& error) {
      problem(full_stop("data/chain.jsonl, " + error.where() + ": " + error.what_happened()));
    } catch (const std::exception& error) {
      problem(full_stop(std::string("the bag cannot be compared with its chain: ") + error.what()));
    }
  }

  std::set<std::string> payload(const Record& record, const EachLink& links) {
    std::set<std::string> meant;
    const std::string said = label_value(bag_layout_label);
    const int layout = said.empty() ? 1 : said == fmt::format("{}", newest_bag_layout) ? newest_bag_layout : 0;
    if (layout == 0) {
      problem("bag-info.txt says a layout (" + said + ") that this version does not know; use a newer switchwright.");
      return meant;
    }
    for (const BagFile& file : bag_payload(record, links, layout)) {
      const std::string& path = file.path;
      meant.insert(path);
      if (!there(path)) {
        problem(path + " is missing; every bag of a record holds it.");
      } else if (!same(file)) {
        if (layout < newest_bag_layout && is_made_anew(path)) {
          report_.cautions.push_back(
              path +
              " was made by an earlier version and cannot be made again here: rely on data/chain.jsonl, "
              "data/readings.csv and data/profile.toml, which were compared.");
          continue;
        }
        const std::string sentence = path + " says something else than data/chain.jsonl, from which it should follow.";
        const bool rendered = path == "data/report.html" || path.ends_with(".csv") || path == "data/record.schema.json";
        (rendered ? rendered_otherwise_ : report_.problems).push_back(sentence);
      }
    }
    return meant;
  }

  /// What later versions set or spell otherwise. Readings, profile and meter they do not.
  static bool is_made_anew(const std::string& path) {
    return path == "data/report.html" || path == "data/record.json" || path == "data/record.schema.json";
  }

  /// The chain has the hash of what was attached.
  void attachments(const Record& record, std::set<std::string>& meant) {
    const auto all = bag_attachments(record);
    const std::string said = label_value(attachments_omitted);
    if (!said.empty()) {
      if (all.empty() || said != fmt::format("{}", all.size()))
        return problem("bag-info.txt says that attachments were left out which the chain does not name.");
      for (const BagAttachment& one : all)
        report_.cautions.push_back(line_safe("the attached file " + one.attachment.name +
                                             " was left out when the bag was sealed; its SHA-256 is " +
                                             one.attachment.sha256 + "."));
      return;
    }
    for (const BagAttachment& one : all) {
      meant.insert(one.path);
      const auto found = bagit_.sha256s.find(one.path);
      if (found == bagit_.sha256s.end())
        problem(one.path + " is missing; the chain names it as attached.");
      else if (found->second != one.attachment.sha256)
        problem(one.path + " is not the file that was attached to the record: the chain names another SHA-256.");
    }
  }

  /// A print is made by another program; where that is the same one, it makes the same bytes.
  void printed(const Record& record, std::set<std::string>& meant) {
    if (!there(printed_report)) return;
    meant.insert(printed_report);
    // Printing takes seconds: only where its answer still counts.
    if (!print_again_ || !report_.problems.empty() || (trust_.key && report_.is_signed)) return;
    const std::string found = bag_file_content(folder_ / printed_report);
    try {
      for (const Paper paper : {Paper::a4, Paper::letter})
        if (make_exporter("pdf", paper)->render(record) == found) return;
      not_compared_.push_back(
          "data/report.pdf is not the print that is made of this chain here: it was changed, or set by another version of the "
          "typesetter or with other fonts. Read data/report.html instead, which follows from the chain.");
    } catch (const Error& error) {
      not_compared_.push_back("data/report.pdf could not be held against the chain (" + error.what_happened() +
                              "). Read data/report.html instead, which follows from the chain.");
    }
  }

  /// Of JSON the content counts, of everything else each byte; and of a document too long to be read at once too.
  bool same(const BagFile& file) const {
    const fs::path path = folder_ / file.path;
    std::ifstream in(path, std::ios::binary);
    std::string found;
    bool equal = true;
    file.write([&](std::string_view meant) {
      if (!equal) return;
      found.resize(meant.size());
      in.read(found.data(), static_cast<std::streamsize>(found.size()));
      equal = static_cast<std::size_t>(in.gcount()) == meant.size() && found == meant;
    });
    if (equal && in.peek() == std::ifstream::traits_type::eof()) return true;
    constexpr std::uintmax_t readable_at_once = 4U << 20U;
    if (file.path != "data/record.json" || fs::file_size(path) > readable_at_once) return false;
    const auto parsed = nlohmann::json::parse(bag_file_content(path), nullptr, false);
    std::string meant;
    file.write([&](std::string_view piece) { meant += piece; });
    return parsed.is_object() && canonical_bytes(parsed) == canonical_bytes(nlohmann::json::parse(meant));
  }

  std::string label_value(const std::string& label) const {
    for (const std::string& line : bag_lines(bag_file_content(folder_ / "bag-info.txt")))
      if (line.starts_with(label + ": ")) return line.substr(label.size() + 2);
    return {};
  }

  void labels(const Record& record) {
    if (!there("bag-info.txt")) return;
    const std::vector<std::string> lines = bag_lines(bag_file_content(folder_ / "bag-info.txt"));
    for (const auto& [label, value] : bag_labels(record))
      if (std::count(lines.begin(), lines.end(), label + ": " + value) != 1 ||
          std::count_if(lines.begin(), lines.end(),
                        [&name = label](const std::string& l) { return l.starts_with(name + ":"); }) != 1)
        problem("bag-info.txt says something else of " + label + " than data/chain.jsonl.");
  }

  void signature() {
    const bool has_signature = there(bag_signature), has_key = there(bag_key);
    if (!has_signature) {
      if (has_key) problem(std::string(bag_key) + " is there, but the signature is missing.");
      if (trust_.key) problem("the bag is not signed, so the given key vouches for nothing.");
      return;
    }
    if (!has_key && !trust_.key) return problem("the bag is signed, but there is no key to check the signature with.");
    std::optional<VerifyingKey> key;
    if (trust_.key) {
      key.emplace(*trust_.key);
    } else {
      try {
        key.emplace(folder_ / bag_key);
      } catch (const Error& error) {
        return problem(full_stop(std::string(bag_key) + ": " + error.what_happened()));
      }
    }
    if (!key->fits(bag_file_content(folder_ / tag_manifest), bag_file_content(folder_ / bag_signature)))
      return problem(trust_.key ? "the signature was not made with the given key, or the bag was changed after signing."
                                : "the signature does not fit: the bag was changed after signing.");
    report_.is_signed = true;
    report_.signed_by = key->fingerprint();
  }

  void time_stamp() {
    if (!there(bag_time_stamp)) {
      if (trust_.authority) problem("the bag has no time stamp, so the given authority vouches for nothing.");
      return;
    }
    const TimeStamp stamp = read_time_stamp(bag_file_content(folder_ / bag_time_stamp),
                                            bag_file_content(folder_ / tag_manifest), trust_.authority);
    if (!stamp.problem.empty()) return problem(std::string(bag_time_stamp) + ": " + stamp.problem);
    report_.stamped_at = stamp.at;
    report_.stamped_by = stamp.by;
    report_.stamp_is_trusted = trust_.authority.has_value();
  }

  fs::path folder_;
  BagTrust trust_;
  bool print_again_;
  BagItFound bagit_;
  std::vector<std::string> rendered_otherwise_, not_compared_;
  BagReport report_;
};

}  // namespace

BagReport check_bag(const fs::path& folder, const BagTrust& trust, bool print_again) {
  std::error_code failed;
  if (!fs::is_directory(folder, failed))
    throw Error(ErrorKind::store, "there is no bag here" + (failed ? " (" + failed.message() + ")" : std::string{}),
                folder.string(), "name the folder that holds bagit.txt");
  return Check(folder, trust, print_again).run();
}

void write_time_stamp_request(const fs::path& bag, const fs::path& request) {
  write_file_durably(request.string(), time_stamp_request(bag_file_content(bag / tag_manifest)));
}

void attach_time_stamp(const fs::path& bag, const fs::path& response, const std::optional<fs::path>& authority) {
  if (is_bag_file(bag / bag_time_stamp))
    throw Error(ErrorKind::usage, "the bag has a time stamp already", (bag / bag_time_stamp).string(),
                "keep the older one, it proves more; remove it first if it is wrong");
  std::ifstream in(response, std::ios::binary);
  if (!in)
    throw Error(ErrorKind::usage, "the response of the time-stamp authority cannot be read", response.string(),
                "check its name and that you may read it");
  const std::string content{std::istreambuf_iterator<char>(in), {}};
  const TimeStamp stamp = read_time_stamp(content, bag_file_content(bag / tag_manifest), authority);
  if (!stamp.problem.empty())
    throw Error(ErrorKind::store, "this response does not stamp the bag: " + stamp.problem, response.string(),
                "send the request of this very bag again");
  write_file_durably((bag / bag_time_stamp).string(), content);
}

}  // namespace switchwright
