// What a person's keys ask of a session, the same on the drawn screen and in plain lines.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "cli/view/page.hpp"
#include "switchwright/bench/session.hpp"

namespace switchwright::cli {

class OperatorKeys {
 public:
  /// `say` shows one sentence to the person.
  OperatorKeys(QualifySession& session, std::function<void(std::string)> say)
      : session_(session), say_(std::move(say)) {}

  /// One byte from the keyboard. Escape sequences (arrows, function keys) mean nothing and are swallowed.
  void key(char c);

  bool typing() const { return typing_; }
  /// "Type your name to acknowledge: Ad".
  std::string typed() const { return prompt_ + typed_; }
  /// What can be pressed at this step; `needs_contact` when the settled reading proves nothing without a statement.
  std::vector<KeyWord> offered(const Step& step, bool needs_contact) const;
  /// A part is learned from everything: nothing can be skipped.
  void set_nothing_skipped(bool on) { nothing_skipped_ = on; }

 private:
  void command(char c, const Step& step);
  void type(char c);
  void start_typing(const std::string& prompt, std::function<void(const std::string&)> then);

  QualifySession& session_;
  std::function<void(std::string)> say_;
  bool nothing_skipped_ = false;
  enum class Escape { none, begun, sequence } escape_ = Escape::none;
  bool typing_ = false;
  std::string prompt_;
  std::string typed_;
  std::function<void(const std::string&)> then_;
};

/// A person without a screen (--json, a pipe): an empty line keeps the reading, "s WHY" skips, anything else is what the
/// display shows.
std::function<void(char)> line_keys(QualifySession& session);

}  // namespace switchwright::cli
