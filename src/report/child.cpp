#include "report/child.hpp"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string_view>
#include <system_error>

#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

extern char** environ;  // NOLINT: POSIX

namespace switchwright {

namespace fs = std::filesystem;

TemporaryFolder::TemporaryFolder() {
  std::string name = (fs::temp_directory_path() / "switchwright-XXXXXX").string();
  if (::mkdtemp(name.data()) == nullptr)
    throw Error(ErrorKind::store, "no temporary folder could be made (" + system_error_text(errno) + ")", name,
                "free some space, or set TMPDIR to a folder that you may write");
  path_ = name;
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

namespace {

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

/// What the children are started with: our own surroundings, and a fixed date. Fonts carry the date on which they were put
/// into a document, and one page must become one document, byte for byte, whenever it is printed.
std::vector<std::string> surroundings() {
  constexpr std::string_view date = "SOURCE_DATE_EPOCH=";
  std::vector<std::string> all{std::string(date) + "946684800"};
  for (char** one = environ; *one != nullptr; ++one)
    if (!std::string_view(*one).starts_with(date)) all.emplace_back(*one);
  return all;
}

std::vector<char*> pointers(std::vector<std::string>& texts) {
  std::vector<char*> all;
  for (std::string& text : texts) all.push_back(text.data());
  all.push_back(nullptr);
  return all;
}

std::string content_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

void require_program(const std::string& name, const ChildWords& words) {
  const char* path = std::getenv("PATH");
  std::istringstream folders(path != nullptr ? path : "/usr/local/bin:/usr/bin:/bin");
  for (std::string folder; std::getline(folders, folder, ':');)
    if (::access((fs::path(folder.empty() ? "." : folder) / name).c_str(), X_OK) == 0) return;
  throw Error(ErrorKind::usage, words.missing, "", words.package_advice);
}

std::string product_of(const std::vector<std::string>& command, const fs::path& product, const ChildWords& words) {
  const std::string complaints = product.string() + ".complaints";
  std::vector<std::string> texts = command, variables = surroundings();
  const std::vector<char*> arguments = pointers(texts), environment = pointers(variables);
  FileActions actions;
  ::posix_spawn_file_actions_addopen(actions.get(), STDIN_FILENO, "/dev/null", O_RDONLY, 0);
  ::posix_spawn_file_actions_addopen(actions.get(), STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  ::posix_spawn_file_actions_addopen(actions.get(), STDERR_FILENO, complaints.c_str(), O_WRONLY | O_CREAT | O_APPEND,
                                     0600);
  pid_t child = 0;
  const std::string& program = command.front();
  const int failed =
      ::posix_spawnp(&child, program.c_str(), actions.get(), nullptr, arguments.data(), environment.data());
  if (failed == ENOENT) throw Error(ErrorKind::usage, words.missing, "", words.package_advice);
  if (failed != 0)
    throw Error(ErrorKind::store, program + " could not be started (" + system_error_text(failed) + ")", program,
                words.instead);
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  std::string document = content_of(product);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0 || document.empty()) {
    std::string said = terminal_safe(content_of(complaints));
    if (said.size() > 300) said = "..." + said.substr(said.size() - 300);
    throw Error(ErrorKind::store, program + " made nothing of it" + (said.empty() ? "" : " (" + said + ")"), program,
                words.instead);
  }
  return document;
}

}  // namespace switchwright
