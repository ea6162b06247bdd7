// What a learner sees: on a terminal one screen per reading, else plain lines. Every screen says that this is
// practice.
#pragma once

#include <string>

#include "switchwright/train/exercise.hpp"

namespace switchwright::cli {

class PracticeView {
 public:
  /// @param easy each reading is shown beside what a good part would read.
  PracticeView(const Exercise& exercise, bool easy, bool led);

  void introduce();
  /// The question, and the line that answers it. @throws Error(interrupted) when the input ends.
  std::string ask();
  void show_reading();  ///< the newest
  void show_table();
  void show_faults();
  void show_help();
  void say(const std::string& line);  ///< an answer to something not understood
  void nothing_tells_more();
  void explain(const Judgement& judgement);

 private:
  void put(const std::string& line);
  void draw();
  std::string row(std::size_t reading, bool with_good, bool coloured = true) const;
  std::string shown(std::size_t reading) const;
  void what_was_hidden(const Judgement& judgement);
  void what_told_it(const Judgement& judgement);
  void shortest_way();
  void why_the_others_fell(const Judgement& judgement);
  std::string named(std::vector<std::size_t> cases) const;

  const Exercise& exercise_;
  bool easy_;
  bool led_;
  bool screen_;
  std::string message_;  ///< on a screen: what stands above the question
};

}  // namespace switchwright::cli
