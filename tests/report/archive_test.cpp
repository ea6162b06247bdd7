// Archives that came by mail are unpacked where they can do no harm. Made by Python's tarfile and zipfile, which share no code with us.
#include "switchwright/report/archive.hpp"

#include <doctest/doctest.h>

#include <fstream>

#include "outside.hpp"
#include "record/example.hpp"
#include "switchwright/core/error.hpp"

using namespace switchwright;

namespace {

constexpr const char* maker = R"py(
import io, sys, tarfile, zipfile
what, path = sys.argv[1], sys.argv[2]
def tar(entries, mode="w"):
    with tarfile.open(path, mode) as t:
        for name, data, kind, target in entries:
            i = tarfile.TarInfo(name); i.type = kind; i.linkname = target; i.size = len(data)
            t.addfile(i, io.BytesIO(data))
F, L, H, P = tarfile.REGTYPE, tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.FIFOTYPE
bag = [("bag/bagit.txt", b"BagIt-Version: 1.0\n", F, ""), ("bag/data/x", b"x", F, "")]
if what == "tar": tar(bag)
if what == "tar.gz": tar(bag, "w:gz")
if what == "zip":
    with zipfile.ZipFile(path, "w") as z:
        for n, d, _, _ in bag: z.writestr(n, d)
if what == "climbs": tar(bag + [("bag/../../out", b"x", F, "")])
if what == "absolute": tar(bag + [("/tmp/out", b"x", F, "")])
if what == "link": tar(bag + [("bag/data/l", b"", L, "/etc/passwd")])
if what == "hardlink": tar(bag + [("bag/data/l", b"", H, "bag/bagit.txt")])
if what == "pipe": tar(bag + [("bag/data/p", b"", P, "")])
if what == "twice": tar(bag + [("bag/data/x", b"y", F, "")])
if what == "large": tar(bag + [("bag/data/big", b"0" * 3000000, F, "")], "w:gz")
if what == "torn":
    tar(bag + [("bag/data/big", b"0" * 100000, F, "")]); d = open(path, "rb").read(); open(path, "wb").write(d[:5000])
if what == "many": tar(bag + [("bag/data/f%d" % i, b"", F, "") for i in range(200)])
if what == "no bag": tar([("x", b"x", F, "")])
if what == "no archive": open(path, "wb").write(b"hello")
)py";

}  // namespace

TEST_CASE("a bag is found in a tar, a tar.gz and a zip, and what is hostile is refused with its reason") {
  struct Row {
    const char* what;
    const char* refused;  ///< nullptr: unpacked
  };
  const Row rows[] = {
      {"tar", nullptr},
      {"tar.gz", nullptr},
      {"zip", nullptr},
      {"climbs", "leads out of the bag"},
      {"absolute", "a place of its own"},
      {"link", "holds the link"},
      {"hardlink", "holds the link"},
      {"pipe", "neither a file nor a folder"},
      {"twice", "twice"},
      {"large", "unpacks to more than"},
      {"many", "more than 100 files"},
      {"torn", "is damaged"},
      {"no bag", "holds no bag"},
      {"no archive", "is no .tar"},
  };
  const example::Folder folder;
  std::ofstream(folder / "make.py") << maker;
  int number = 0;
  for (const Row& row : rows) {
    CAPTURE(row.what);
    const auto archive = folder / ("archive" + std::to_string(++number)),
               target = folder / ("to" + std::to_string(number));
    std::filesystem::create_directory(target);
    REQUIRE(outside::run(std::string(PYTHON) + " " + (folder / "make.py").string() + " '" + row.what + "' " +
                         archive.string())
                .code == 0);
    std::string said;
    try {
      const auto bag = unpack_archive(archive, target, {2'000'000, 100});
      CHECK(std::filesystem::exists(bag / "bagit.txt"));
    } catch (const Error& error) {
      CHECK(error.kind() == ErrorKind::store);
      said = error.what_happened();
    }
    CAPTURE(said);
    if (row.refused == nullptr)
      CHECK(said.empty());
    else
      CHECK(said.find(row.refused) != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(folder / "out"));
  }
}
