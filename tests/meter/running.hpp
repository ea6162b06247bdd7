// Reference programs from the distribution, run beside a test.
#pragma once

#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <string>
#include <vector>

namespace switchwright::link_test {

/// A program that runs for as long as this stands.
class Running {
 public:
  explicit Running(std::vector<std::string> words) {
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    posix_spawn_file_actions_t quiet;
    ::posix_spawn_file_actions_init(&quiet);
    ::posix_spawn_file_actions_addopen(&quiet, 2, "/dev/null", O_WRONLY, 0);
    if (::posix_spawnp(&pid_, argv[0], &quiet, nullptr, argv.data(), environ) != 0) pid_ = -1;
    ::posix_spawn_file_actions_destroy(&quiet);
  }
  ~Running() { end(); }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;
  void end() {
    if (pid_ <= 0) return;
    ::kill(pid_, SIGTERM);
    ::waitpid(pid_, nullptr, 0);
    pid_ = -1;
  }

 private:
  pid_t pid_ = -1;
};

inline bool have(const char* program) {
  return std::filesystem::exists(std::string("/usr/bin/") + program) ||
         std::filesystem::exists(std::string("/usr/sbin/") + program);
}

}  // namespace switchwright::link_test
