#include "cli/view/operator_keys.hpp"

#include <utility>

namespace switchwright::cli {

namespace {

constexpr char escape_key = 27;

}  // namespace

void OperatorKeys::key(char c) {
  if (escape_ == Escape::begun) {
    escape_ = c == '[' || c == 'O' ? Escape::sequence : Escape::none;
    if (escape_ == Escape::sequence) return;
  } else if (escape_ == Escape::sequence) {
    if (c >= 0x40 && c <= 0x7E) escape_ = Escape::none;
    return;
  }
  if (c == escape_key) {
    escape_ = Escape::begun;
    typing_ = false;
    return;
  }
  if (typing_) {
    type(c);
    return;
  }
  if (const Step* step = session_.current()) command(c, Step{*step});
}

void OperatorKeys::command(char c, const Step& step) {
  if (step.kind == StepKind::acknowledge) {
    start_typing("Type your name to acknowledge: ", [this](const std::string& who) {
      if (who.empty())
        say_("Without an acknowledgement nothing is measured.");
      else
        session_.acknowledge(who, "typed at the terminal");
    });
    if (c != '\n') type(c);
    return;
  }
  const bool begins_a_value = (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '+' || c == 'O' || c == 'o';
  if (session_.readings_are_typed() && begins_a_value && step.kind != StepKind::inspect) {
    start_typing("The display shows: ", [this](const std::string& text) { session_.type_reading(text); });
    type(c);
    return;
  }
  switch (c) {
    case 'y':
      if (step.kind == StepKind::inspect) session_.answer(true);
      break;
    case 'n':
      if (step.kind == StepKind::inspect)
        start_typing("What is wrong with it? ", [this](const std::string& text) { session_.answer(false, text); });
      break;
    case '\n':
    case ' ': session_.confirm(); break;
    case 'c': session_.state_contact(); break;
    case 'r': session_.redo(); break;
    case 'p': session_.reseat(); break;
    case 'b': session_.back(); break;
    case 's':
      if (nothing_skipped_)
        session_.skip({});  // says why not
      else
        start_typing("Why is it skipped? ", [this](const std::string& reason) { session_.skip(reason); });
      break;
    case 'q': session_.stop(); break;
    default: break;
  }
}

void OperatorKeys::start_typing(const std::string& prompt, std::function<void(const std::string&)> then) {
  typing_ = true;
  prompt_ = prompt;
  typed_.clear();
  then_ = std::move(then);
}

void OperatorKeys::type(char c) {
  if (c == '\n') {
    typing_ = false;
    then_(typed_);
  } else if (c == 127 || c == 8) {
    // A letter of several bytes goes as a whole.
    while (!typed_.empty() && (static_cast<unsigned char>(typed_.back()) & 0xC0) == 0x80) typed_.pop_back();
    if (!typed_.empty()) typed_.pop_back();
  } else if (static_cast<unsigned char>(c) >= 32) {
    typed_ += c;
  }
}

std::vector<KeyWord> OperatorKeys::offered(const Step& step, bool needs_contact) const {
  std::vector<KeyWord> keys;
  const auto add = [&keys](const char* key, const char* does) { keys.push_back(KeyWord{key, does}); };
  if (typing_) {
    add("Enter", "done");
    add("Esc", "back");
    return keys;
  }
  if (step.kind == StepKind::acknowledge) {
    add("type your name", "and press Enter to acknowledge");
    add("Ctrl-C", "stop");
    return keys;
  }
  if (session_.readings_are_typed() && step.kind != StepKind::inspect)
    add(step.on_another_display ? "1.02 A" : "47.2 ohm, OL", "type what the display shows");
  const bool kept = step.kind == StepKind::measure || step.kind == StepKind::voltage || is_drop(step.kind);
  if (step.kind == StepKind::inspect) {
    add("y", "yes");
    add("n", "no");
  } else if (needs_contact) {
    add("c", is_drop(step.kind) ? "the supply shows the current" : "both probes touch bare metal");
    add("p", is_drop(step.kind) ? "clips and probes again" : "place the probes again");
  } else {
    add("Enter", kept ? "keep" : "go on");
    if (!session_.readings_are_typed()) add("r", "again");
    if (kept) add("p", is_drop(step.kind) ? "clips and probes again" : "probe slipped: placement again");
  }
  if (!needs_contact) add("b", "back");
  if ((kept || step.kind == StepKind::inspect) && !nothing_skipped_) add("s", "skip");
  add("q", kept || step.kind == StepKind::inspect ? "stop and keep" : "stop");
  return keys;
}

std::function<void(char)> line_keys(QualifySession& session) {
  return [&session, line = std::string{}](char c) mutable {
    if (c != '\n') {
      line += c;
      return;
    }
    const std::string said = std::exchange(line, {});
    if (said.starts_with("s ")) return session.skip(said.substr(2));
    if (!said.empty()) session.type_reading(said);
    session.confirm();
  };
}

}  // namespace switchwright::cli
