// Ctrl-C, hang-up and termination as a call on the loop's thread.
#pragma once

#include <functional>
#include <memory>

#include "switchwright/core/loop.hpp"

namespace switchwright {

class Interrupt {
 public:
  /// `first` is called at the first signal; from then on a signal works as if nobody listened.
  Interrupt(Loop& loop, std::function<void()> first);
  ~Interrupt();
  Interrupt(const Interrupt&) = delete;
  Interrupt& operator=(const Interrupt&) = delete;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace switchwright
