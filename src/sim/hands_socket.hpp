// The door through which hands reach the simulated bench: a Unix stream socket in a directory of its own that
// nobody else may enter. One JSON object per line, each answered by one line.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "switchwright/core/loop.hpp"

namespace switchwright::sim {

/// Sends one line back to whoever asked; harmless after that client or the socket is gone.
using Answer = std::function<void(std::string line)>;

/// Thread rule: lives on the loop's thread; `asked` comes from Loop::run().
class HandsSocket {
 public:
  /// `asked` gets each line without its end. A line longer than 16 KiB is answered here and ends the
  /// connection.
  /// @throws Error(meter) when no socket can be made.
  HandsSocket(Loop& loop, std::function<void(std::string line, Answer answer)> asked);
  /// Removes socket and directory.
  ~HandsSocket();
  HandsSocket(const HandsSocket&) = delete;
  HandsSocket& operator=(const HandsSocket&) = delete;

  const std::string& path() const;

 private:
  struct Server;
  std::shared_ptr<Server> server_;
};

}  // namespace switchwright::sim
