#include "cli/view/secret.hpp"

#include <termios.h>
#include <unistd.h>

#include "cli/choose/choices.hpp"
#include "cli/output.hpp"

namespace switchwright::cli {

namespace {

class WithoutEcho {
 public:
  WithoutEcho() : was_set_(::tcgetattr(STDIN_FILENO, &before_) == 0) {
    termios quiet = before_;
    quiet.c_lflag &= ~static_cast<tcflag_t>(ECHO);
    if (was_set_) ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &quiet);
  }
  ~WithoutEcho() {
    if (was_set_) ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &before_);
  }
  WithoutEcho(const WithoutEcho&) = delete;
  WithoutEcho& operator=(const WithoutEcho&) = delete;

 private:
  termios before_{};
  bool was_set_;
};

}  // namespace

std::string ask_secret(const std::string& prompt) {
  std::string answer;
  {
    const WithoutEcho quiet;
    answer = ask_line(prompt);
  }
  put_line("");
  return answer;
}

}  // namespace switchwright::cli
