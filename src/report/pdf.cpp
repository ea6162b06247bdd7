// PDF by way of the HTML report and weasyprint, which runs as a child process: a typesetter is not written
// again here.
#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <system_error>

#include "report/exporters.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

extern char** environ;  // NOLINT: POSIX

namespace switchwright {

namespace {

namespace fs = std::filesystem;

/// A private folder, gone afterwards.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string name = (fs::temp_directory_path() / "switchwright-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr)
      throw Error(ErrorKind::store, "no temporary folder could be made (" + system_error_text(errno) + ")",
                  name, "free some space, or set TMPDIR to a folder that you may write");
    path_ = name;
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  fs::path operator/(const char* name) const { return path_ / name; }

 private:
  fs::path path_;
};

class FileActions {
 public:
  FileActions() { ::posix_spawn_file_actions_init(&actions_); }
  ~FileActions() { ::posix_spawn_file_actions_destroy(&actions_); }
  FileActions(const FileActions&) = delete;
  FileActions& operator=(const FileActions&) = delete;
  posix_spawn_file_actions_t* get() { return &actions_; }

 private:
  posix_spawn_file_actions_t actions_{};
};

std::string content_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Puts the light colours in the place of the style sheet's variables, which weasyprint does not know inside
/// shorthand properties.
std::string with_plain_colours(std::string page) {
  const auto root = page.find(":root {"), root_end = page.find('}', root);
  if (root == std::string::npos || root_end == std::string::npos) return page;
  const std::string block = page.substr(root, root_end - root);
  auto end = page.find("</style>");
  for (auto at = block.find("--"); at != std::string::npos; at = block.find("--", at + 2)) {
    const auto colon = block.find(':', at), semicolon = block.find(';', at);
    if (colon == std::string::npos || semicolon == std::string::npos) break;
    const std::string variable = "var(" + block.substr(at, colon - at) + ")";
    const std::string colour = block.substr(colon + 1, semicolon - colon - 1);
    for (auto use = page.find(variable); use < end; use = page.find(variable, use)) {
      page.replace(use, variable.size(), colour);
      end = page.find("</style>");
    }
  }
  return page;
}

Error not_installed() {
  return {ErrorKind::usage, "a PDF needs weasyprint, which is not installed", "",
          "install the Debian package weasyprint, or take --format html and print that"};
}

class PdfExporter final : public Exporter {
 public:
  std::string format() const override { return "pdf"; }
  std::string extension() const override { return ".pdf"; }
  void require_possible() const override {
    const char* path = std::getenv("PATH");
    std::istringstream folders(path != nullptr ? path : "/usr/local/bin:/usr/bin:/bin");
    for (std::string folder; std::getline(folders, folder, ':');)
      if (::access((fs::path(folder.empty() ? "." : folder) / "weasyprint").c_str(), X_OK) == 0) return;
    throw not_installed();
  }
  std::string render(const Record& record) const override { return pdf_of_page(html_exporter()->render(record)); }
};

}  // namespace

std::string pdf_of_page(const std::string& html) {
  const TemporaryFolder folder;
  const std::string page = (folder / "report.html").string();
  const std::string pdf = (folder / "report.pdf").string();
  const std::string complaints = (folder / "complaints.txt").string();
  write_file_durably(page, with_plain_colours(html));

  std::string program = "weasyprint", quiet = "--quiet", in = page, out = pdf;
  std::array<char*, 5> arguments{program.data(), quiet.data(), in.data(), out.data(), nullptr};
  FileActions actions;
  for (const int stream : {STDOUT_FILENO, STDERR_FILENO})
    ::posix_spawn_file_actions_addopen(actions.get(), stream, complaints.c_str(),
                                       O_WRONLY | O_CREAT | O_APPEND, 0600);
  pid_t child = 0;
  const int failed =
      ::posix_spawnp(&child, program.c_str(), actions.get(), nullptr, arguments.data(), environ);
  if (failed == ENOENT) throw not_installed();
  if (failed != 0)
    throw Error(ErrorKind::store, "weasyprint could not be started (" + system_error_text(failed) + ")",
                program, "take --format html and print that");
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  const std::string document = content_of(pdf);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0 || !document.starts_with("%PDF-")) {
    std::string said = terminal_safe(content_of(complaints));
    if (said.size() > 300) said = "..." + said.substr(said.size() - 300);
    throw Error(ErrorKind::store, "weasyprint made no PDF" + (said.empty() ? "" : " (" + said + ")"),
                program, "take --format html and print that");
  }
  return document;
}

std::unique_ptr<Exporter> pdf_exporter() {
  return std::make_unique<PdfExporter>();
}

}  // namespace switchwright
