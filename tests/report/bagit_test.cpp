// What RFC 8493 (BagIt 1.0) says MUST be, clause by clause, each broken once in a bag whose other manifests fit. Clauses are
// quoted from memory of the standard, in words of our own; its numbers stand beside them. The digests are of coreutils.
#include "report/bagit.hpp"

#include <functional>

#include "bagged.hpp"

using namespace bagged;

namespace {

void write(const fs::path& file, const std::string& text) { std::ofstream(file, std::ios::binary) << text; }

void in(const Bagged& b, const std::string& command) {
  REQUIRE(outside::run("cd " + b.bag().string() + " && " + command).code == 0);
}

/// Changes one line of the payload manifest and lets the tag manifest fit again.
void with_line(const Bagged& b, const std::string& line) {
  b.append("manifest-sha256.txt", line + "\n");
  in(b, "sha256sum bagit.txt bag-info.txt manifest-sha256.txt > tagmanifest-sha256.txt");
}

const std::string zeros(64, '0');

struct Row {
  const char* clause;
  std::function<void(const Bagged&)> change;
  const char* found;  ///< nullptr: this must be accepted
};

const Row rows[] = {
    {"2.1.1 a bag has bagit.txt", [](const Bagged& b) { fs::remove(b.bag() / "bagit.txt"); }, "bagit.txt is missing"},
    {"2.1.1 its first line is the version, as M.N",
     [](const Bagged& b) {
       write(b.bag() / "bagit.txt", "BagIt-Version: one\nTag-File-Character-Encoding: UTF-8\n");
       b.seal_again();
     },
     "names no version"},
    {"2.1.1 its lines stand in this order",
     [](const Bagged& b) {
       write(b.bag() / "bagit.txt", "Tag-File-Character-Encoding: UTF-8\nBagIt-Version: 1.0\n");
       b.seal_again();
     },
     "does not begin with a BagIt version"},
    {"2.1.1 its second line is the encoding",
     [](const Bagged& b) {
       write(b.bag() / "bagit.txt", "BagIt-Version: 1.0\n");
       b.seal_again();
     },
     "does not say that the bag's texts are UTF-8"},
    {"2.1.1 it has two lines",
     [](const Bagged& b) {
       b.append("bagit.txt", "Note: x\n");
       b.seal_again();
     },
     "more than its two lines"},
    {"2.1.1 it has no byte order mark",
     [](const Bagged& b) {
       write(b.bag() / "bagit.txt",
             "\xEF\xBB\xBF"
             "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
       b.seal_again();
     },
     "byte order mark"},
    {"2.1.1 a version that is not known is not taken for a known one",
     [](const Bagged& b) {
       write(b.bag() / "bagit.txt", "BagIt-Version: 7.3\nTag-File-Character-Encoding: UTF-8\n");
       b.seal_again();
     },
     "not known here"},
    {"2.1.2 a bag has the folder data", [](const Bagged& b) { fs::remove_all(b.bag() / "data"); },
     "the folder data is missing"},
    {"2.1.3 a bag has a payload manifest", [](const Bagged& b) { fs::remove(b.bag() / "manifest-sha256.txt"); },
     "manifest-sha256.txt is missing"},
    {"2.1.3 a manifest lists every payload file",
     [](const Bagged& b) {
       in(b,
          "sed -i /results.csv/d manifest-sha256.txt && sha256sum bagit.txt bag-info.txt manifest-sha256.txt > "
          "tagmanifest-sha256.txt");
     },
     "data/results.csv is in no manifest"},
    {"2.1.3 exactly once",
     [](const Bagged& b) {
       in(b,
          "grep results.csv manifest-sha256.txt >> manifest-sha256.txt.2; cat manifest-sha256.txt.2 >> "
          "manifest-sha256.txt; rm manifest-sha256.txt.2; sha256sum bagit.txt bag-info.txt manifest-sha256.txt > "
          "tagmanifest-sha256.txt");
     },
     "stands there twice"},
    {"2.1.3 every file that it lists is there", [](const Bagged& b) { with_line(b, zeros + "  data/none"); },
     "data/none is missing"},
    {"2.1.3 it lists payload alone", [](const Bagged& b) { with_line(b, zeros + "  bagit.txt"); },
     "payload lies in data/"},
    {"2.1.3 a line is a checksum, blanks and a path", [](const Bagged& b) { with_line(b, zeros); },
     "not a SHA-256 and a path"},
    {"2.1.3 a checksum is hexadecimal", [](const Bagged& b) { with_line(b, std::string(64, 'g') + "  data/x"); },
     "not a SHA-256 and a path"},
    {"2.1.3 its digits may be upper case",
     [](const Bagged& b) {
       in(b,
          "sed -i 's/^[0-9a-f]*/\\U&/' manifest-sha256.txt && sha256sum bagit.txt bag-info.txt manifest-sha256.txt > "
          "tagmanifest-sha256.txt");
     },
     nullptr},
    {"2.1.3 a tab may part checksum and path",
     [](const Bagged& b) {
       in(b,
          "sed -i 's/  /\\t/' manifest-sha256.txt && sha256sum bagit.txt bag-info.txt manifest-sha256.txt > "
          "tagmanifest-sha256.txt");
     },
     nullptr},
    {"2.1.3 a line end in a path is percent-encoded",
     [](const Bagged& b) {
       write(b.bag() / "data/a\nb", "x");
       // printf x | sha256sum
       with_line(b, "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881  data/a%0Ab");
     },
     "was added"},  // found by that name, and no part of a record
    {"2.1.3 a percent sign in a path is percent-encoded",
     [](const Bagged& b) {
       write(b.bag() / "data/50%", "x");
       with_line(b, "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881  data/50%25");
     },
     "was added"},
    {"2.2.1 a tag manifest lists every payload manifest",
     [](const Bagged& b) { in(b, "sha256sum bagit.txt bag-info.txt > tagmanifest-sha256.txt"); },
     "does not name manifest-sha256.txt"},
    {"2.2.1 and no payload",
     [](const Bagged& b) {
       in(b, "sha256sum bagit.txt bag-info.txt manifest-sha256.txt data/results.csv > tagmanifest-sha256.txt");
     },
     "a tag manifest must not name"},
    {"2.2.1 nor a tag manifest",
     [](const Bagged& b) { b.append("tagmanifest-sha256.txt", zeros + "  tagmanifest-sha256.txt\n"); },
     "must not name tagmanifest-sha256.txt"},
    {"2.2.2 a line of bag-info.txt is a label, a colon and a value",
     [](const Bagged& b) {
       b.append("bag-info.txt", "nothing of the kind\n");
       b.seal_again();
     },
     "not a label, a colon and a value"},
    {"2.2.2 a long value goes on behind a blank",
     [](const Bagged& b) {
       b.append("bag-info.txt", "Internal-Sender-Description: a long\n  story: told\n");
       b.seal_again();
     },
     nullptr},
    {"2.2.2 Payload-Oxum is right",
     [](const Bagged& b) {
       in(b, "sed -i 's/^Payload-Oxum: .*/Payload-Oxum: 1.1/' bag-info.txt");
       b.seal_again();
     },
     "another size or number of files"},
    {"2.2.2 and stands there once",
     [](const Bagged& b) {
       in(b, "grep ^Payload-Oxum bag-info.txt > x; cat x >> bag-info.txt; rm x");
       b.seal_again();
     },
     "tells the size of its payload twice"},
    {"2.3 texts end their lines with LF, CR or CRLF",
     [](const Bagged& b) {
       write(b.bag() / "bagit.txt", "BagIt-Version: 1.0\rTag-File-Character-Encoding: UTF-8\r");
       in(b, "sed -i 's/$/\\r/' manifest-sha256.txt");
       in(b, "sha256sum bagit.txt bag-info.txt manifest-sha256.txt > tagmanifest-sha256.txt");
     },
     nullptr},
    {"2.4 SHA-512 is understood beside SHA-256",
     [](const Bagged& b) {
       in(b,
          "sha512sum $(find data -type f) > manifest-sha512.txt && sha256sum bagit.txt bag-info.txt manifest-*.txt > "
          "tagmanifest-sha256.txt");
     },
     nullptr},
    {"2.4 and found wrong where it is",
     [](const Bagged& b) {
       in(b,
          "sha512sum $(find data -type f) | sed 's/^./0/;s/^0\\(.\\)./0\\1x/;s/x/0/' > manifest-sha512.txt && sha256sum "
          "bagit.txt bag-info.txt manifest-*.txt > tagmanifest-sha256.txt");
     },
     "its SHA-512 differs"},
    {"3 every payload file stands in every payload manifest",
     [](const Bagged& b) {
       in(b,
          "sha512sum data/results.csv > manifest-sha512.txt && sha256sum bagit.txt bag-info.txt manifest-*.txt > "
          "tagmanifest-sha256.txt");
     },
     "manifest-sha512.txt does not name data/"},
    {"2.4 what is hashed in an unknown way is not passed over",
     [](const Bagged& b) {
       in(b,
          "cp manifest-sha256.txt manifest-odd.txt && sha256sum bagit.txt bag-info.txt manifest-*.txt > "
          "tagmanifest-sha256.txt");
     },
     "manifest-odd.txt uses a way of hashing that is not known"},
    {"5.2 a path from a home folder is refused", [](const Bagged& b) { with_line(b, zeros + "  ~root/x"); },
     "leads out of the bag"},
    {"5.2 a path that climbs is refused", [](const Bagged& b) { with_line(b, zeros + "  data/../../x"); },
     "leads out of the bag"},
    {"5.2 a pipe is no file, and is not waited for",
     [](const Bagged& b) {
       in(b, "mkfifo data/pipe");
       with_line(b, zeros + "  data/pipe");
     },
     "is neither a file nor a folder"},
};

}  // namespace

TEST_CASE("each MUST of BagIt is kept to: what breaks it is told, what it allows is taken") {
  for (const Row& row : rows) {
    CAPTURE(row.clause);
    const Bagged bagged;
    row.change(bagged);
    const BagReport report = check_bag(bagged.bag());
    CAPTURE(all(report.problems));
    if (row.found == nullptr)
      CHECK(report.problems.empty());
    else
      CHECK(any(report.problems, row.found));
  }
}
