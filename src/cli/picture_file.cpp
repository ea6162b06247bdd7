#include "cli/picture_file.hpp"

#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

extern char** environ;

namespace switchwright::cli {

namespace {

namespace fs = std::filesystem;

/// The light colours in the place of the style sheet's variables, which the converter does not know.
std::string with_plain_colours(std::string svg) {
  const auto from = svg.find('{', svg.find(".swp{--")), to = svg.find('}', from);
  if (from == std::string::npos || to == std::string::npos) return svg;
  const std::string block = svg.substr(from + 1, to - from - 1) + ";";
  for (auto at = block.find("--"); at != std::string::npos; at = block.find("--", at + 2)) {
    const auto colon = block.find(':', at), end = block.find(';', at);
    const std::string variable = "var(" + block.substr(at, colon - at) + ")",
                      colour = block.substr(colon + 1, end - colon - 1);
    for (auto use = svg.find(variable); use != std::string::npos; use = svg.find(variable, use))
      svg.replace(use, variable.size(), colour);
  }
  const auto dark = svg.find("@media");
  return dark == std::string::npos ? svg : svg.erase(dark, svg.find("}}", dark) + 2 - dark);
}

class TemporaryFile {
 public:
  explicit TemporaryFile(const std::string& content) {
    path_ = (fs::temp_directory_path() / "switchwright-XXXXXX").string();
    const int descriptor = ::mkstemp(path_.data());
    if (descriptor < 0)
      throw Error(ErrorKind::store, "no temporary file can be made: " + system_error_text(errno), path_);
    ::close(descriptor);
    std::ofstream{path_, std::ios::binary} << content;
  }
  ~TemporaryFile() {
    std::error_code ignored;
    fs::remove(path_, ignored);
  }
  TemporaryFile(const TemporaryFile&) = delete;
  TemporaryFile& operator=(const TemporaryFile&) = delete;
  const std::string& path() const { return path_; }
  std::string content() const {
    std::ifstream in(path_, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }

 private:
  std::string path_;
};

std::string png_of(const std::string& svg) {
  const TemporaryFile in{with_plain_colours(svg)}, out{""};
  std::string program = "rsvg-convert", zoom = "--zoom=2", to = "--output=" + out.path(), from = in.path();
  std::array<char*, 5> arguments{program.data(), zoom.data(), to.data(), from.data(), nullptr};
  pid_t child = 0;
  const int failed = ::posix_spawnp(&child, program.c_str(), nullptr, nullptr, arguments.data(), environ);
  if (failed == ENOENT)
    throw Error(ErrorKind::usage, "a PNG needs rsvg-convert, which is not installed", "",
                "install the Debian package librsvg2-bin, or name a file that ends with .svg");
  int status = 0;
  if (failed == 0)
    while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
    }
  std::string png = failed == 0 && WIFEXITED(status) && WEXITSTATUS(status) == 0 ? out.content() : std::string{};
  if (!png.starts_with("\x89PNG"))
    throw Error(ErrorKind::store,
                "rsvg-convert made no PNG" + (failed != 0 ? ": " + system_error_text(failed) : std::string{}), "",
                "name a file that ends with .svg");
  return png;
}

}  // namespace

void write_picture(const std::string& file, const std::string& svg) {
  const std::string ending = fs::path{file}.extension().string();
  if (ending == ".svg")
    write_file_durably(file, svg);
  else if (ending == ".png")
    write_file_durably(file, png_of(svg));
  else
    throw Error(ErrorKind::usage, "a picture ends with .svg or .png", terminal_safe(file), "name the file so");
}

}  // namespace switchwright::cli
