#include "cli/view/operator_keys.hpp"

namespace switchwright::cli {

namespace {

constexpr char escape_key = 27;

bool is_drop(const Step& step) { return step.kind == StepKind::drop || step.kind == StepKind::drop_reversed; }

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
  const KeyWord keep{"Enter", "keep"}, again{"r", "again"}, back{"b", "back"}, skip{"s", "skip"}, stop{"q", "stop and keep"};
  if (typing_) return {{"Enter", "done"}, {"Esc", "back"}};
  std::vector<KeyWord> keys;
  if (step.kind == StepKind::acknowledge) return {{"type your name", "and press Enter"}, {"Ctrl-C", "stop"}};
  if (step.kind == StepKind::inspect) {
    keys = {{"y", "yes"}, {"n", "no"}, skip, back, stop};
  } else if (is_drop(step)) {
    const KeyWord place{"p", "clips and probes again"};
    keys = needs_contact ? std::vector<KeyWord>{{"c", "the supply shows the current"}, place, skip, stop}
                         : std::vector<KeyWord>{keep, again, place, back, skip, stop};
  } else if (step.kind == StepKind::voltage) {
    keys = {keep, again, back, skip, stop};
  } else if (step.kind != StepKind::measure) {
    keys = {{"Enter", "go on"}, again, back, stop};
  } else if (needs_contact) {
    keys = {{"c", "both probes touch bare metal"}, {"p", "place the probes again"}, skip, stop};
  } else {
    keys = {keep, again, {"p", "probe slipped: placement again"}, back, skip, stop};
  }
  if (nothing_skipped_) std::erase_if(keys, [](const KeyWord& key) { return key.key == "s"; });
  return keys;
}

std::string contact_question(const Step& step) {
  return step.kind == StepKind::measure
             ? "Open at every position: a probe off the metal looks the same. Do both probes touch bare metal?"
             : "So little is also what no current at all looks like. Does the supply show the current?";
}

}  // namespace switchwright::cli
