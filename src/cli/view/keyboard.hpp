// Single keys from the terminal, without Enter and without echo; the terminal is put back as it was.
#pragma once

#include <functional>
#include <memory>

#include "switchwright/core/loop.hpp"

namespace switchwright::cli {

class Keyboard {
 public:
  /// `key` is called for every byte typed; '\n' for Enter, 127 for backspace. `closed` when input ends.
  Keyboard(Loop& loop, std::function<void(char)> key, std::function<void()> closed);
  ~Keyboard();
  Keyboard(const Keyboard&) = delete;
  Keyboard& operator=(const Keyboard&) = delete;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace switchwright::cli
