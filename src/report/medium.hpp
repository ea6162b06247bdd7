// What a page is written for. A screen shows everything; paper is a document of few pages, whatever the record holds, so it
// has room for so much and counts the rest.
#pragma once

#include <cstddef>
#include <string>

namespace switchwright {

/// How much of each thing paper has room for. Lists count items, texts count bytes.
struct PaperRoom {
  std::size_t fact_text, sentence_text, note_text;
  std::size_t deviations, list_items, explanations, happenings, notes, readings, voltages, picture_rows, channels, rows;
};

class Medium {
 public:
  static const Medium screen, paper;
  static constexpr int briefest = 3;
  /// Paper with less room from level to level, 0 to `briefest`.
  static Medium paper_at(int level) { return Medium(true, level); }
  bool on_paper() const { return on_paper_; }
  int level() const { return level_; }
  const PaperRoom& room() const;
  /// On paper at most so many.
  std::size_t most(std::size_t PaperRoom::*what, std::size_t there) const {
    return on_paper_ && room().*what < there ? room().*what : there;
  }
  /// A text from outside may be of any length: on paper its beginning and an ellipsis, never cut within a letter.
  std::string told(const std::string& text, std::size_t PaperRoom::*length) const;
  friend bool operator==(const Medium& a, const Medium& b) { return a.on_paper_ == b.on_paper_; }

 private:
  constexpr Medium(bool on_paper, int level) : on_paper_(on_paper), level_(level) {}
  bool on_paper_;
  int level_;
};
inline constexpr Medium Medium::screen{false, 0};
inline constexpr Medium Medium::paper{true, 0};

/// The beginning of a text, with an ellipsis where something is left out.
std::string shortened(const std::string& text, std::size_t most_bytes);

}  // namespace switchwright
