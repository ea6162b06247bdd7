// The Telnet Com Port Control Option (RFC 2217) as seen by the client: bytes that set up a serial server's
// port, and the separation of the meter's bytes from the server's talk. No input or output here.
#pragma once

#include <set>
#include <string>
#include <string_view>

#include "switchwright/meter/definition.hpp"

namespace switchwright {

/// Thread rule: one owner, one thread. One per connection.
class ComPortClient {
 public:
  explicit ComPortClient(const LinkSettings& settings);

  /// What to send first: the offer of option 44 and of binary transmission, then all line settings. A server
  /// that never acknowledges is listened to all the same.
  std::string greeting();
  /// Takes what arrived in pieces of any size; returns the meter's bytes and appends the answers that Telnet
  /// requires.
  std::string receive(std::string_view bytes, std::string& reply);
  /// Bytes for the meter: 0xFF doubled.
  static std::string encode(std::string_view bytes);

  /// The server set another speed than it was asked for: its answer; 0 while all is well or unanswered.
  int refused_baud() const { return refused_baud_; }
  /// How many settings the server acknowledged.
  int acknowledged() const { return acknowledged_; }

 private:
  enum class State { data, command, option, sub, sub_command };

  std::string settings_requests() const;
  void negotiate(unsigned char verb, unsigned char option, std::string& reply);
  void subnegotiation();

  LinkSettings settings_;
  State state_ = State::data;
  unsigned char verb_ = 0;
  std::string sub_;
  std::set<unsigned char> will_;  ///< options that this side has offered or agreed to use
  std::set<unsigned char> do_;    ///< options that the other side may use
  std::set<unsigned char> wont_;  ///< refused already: no endless exchange of refusals
  std::set<unsigned char> dont_;
  int acknowledged_ = 0;
  int refused_baud_ = 0;
};

}  // namespace switchwright
