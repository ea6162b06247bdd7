// PDF by way of a page for paper and weasyprint, which runs as a child process: a typesetter is not written
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
#include <system_error>

#include "report/exporters.hpp"
#include "report/html_page.hpp"
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

class PdfExporter final : public Exporter {
 public:
  explicit PdfExporter(Paper paper) : paper_(paper) {}
  std::string format() const override { return "pdf"; }
  std::string extension() const override { return ".pdf"; }
  std::string render(const Record& record) const override { return pdf_of_page(record_page(record, Medium::paper, paper_)); }

 private:
  Paper paper_;
};

}  // namespace

std::string pdf_of_page(const std::string& html) {
    const TemporaryFolder folder;
    const std::string page = (folder / "report.html").string();
    const std::string pdf = (folder / "report.pdf").string();
    const std::string complaints = (folder / "complaints.txt").string();
    write_file_durably(page, html);

    std::string program = "weasyprint", quiet = "--quiet", in = page, out = pdf;
    std::array<char*, 5> arguments{program.data(), quiet.data(), in.data(), out.data(), nullptr};
    FileActions actions;
    for (const int stream : {STDOUT_FILENO, STDERR_FILENO})
      ::posix_spawn_file_actions_addopen(actions.get(), stream, complaints.c_str(),
                                         O_WRONLY | O_CREAT | O_APPEND, 0600);
    pid_t child = 0;
    const int failed =
        ::posix_spawnp(&child, program.c_str(), actions.get(), nullptr, arguments.data(), environ);
    if (failed == ENOENT)
      throw Error(ErrorKind::usage, "a PDF needs weasyprint, which is not installed", "",
                  "install the Debian package weasyprint, or take --format html and print that");
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

std::unique_ptr<Exporter> pdf_exporter(Paper paper) {
  return std::make_unique<PdfExporter>(paper);
}

}  // namespace switchwright
