// Lays the panels of one picture maker under each other, from the top down.
#pragma once

#include <optional>
#include <string>

#include "report/axes.hpp"
#include "report/svg.hpp"
#include "switchwright/report/cycle_picture.hpp"

namespace switchwright {

/// One per pixel of the plot's width.
constexpr std::size_t picture_columns = 810;

class CycleSheet {
 public:
  CycleSheet(const PictureMaker& maker, const CycleSummary& summary) : m_(maker), s_(summary) {}

  void trace();
  void cycles();
  void histogram();
  /// For a page; `document` for a file of its own.
  std::string picture(const std::string& id, const std::string& title) const;
  std::string document(const std::string& title) const;

 private:
  enum class Drawn { samples, columns };
  struct Label {
    double at;
    std::string name;
    std::string value;
    svg::Paint paint;
    const char* dashes;  ///< as SVG attribute
  };

  std::string value_title() const;
  std::string level_text(double level) const;
  std::vector<Label> level_labels() const;
  void heading(const std::string& text);
  void caption(const std::string& text);
  double detail_end_s() const;
  void panel(double from_s, double to_s, double height, Drawn drawn);
  void draw_samples(double from_s, double to_s, const svg::Scale& seconds, const svg::Scale& y);
  void draw_columns(const svg::Scale& y);
  /// Lines across with their names in the right margin, moved apart where they would overlap.
  void labels_beside(const svg::Scale& y, std::vector<Label> labels);
  void per_cycle(const PictureMaker::PerCycle& values, const Figure& figure, const char* title,
                 const std::string& unit);

  const PictureMaker& m_;
  const CycleSummary& s_;
  svg::Drawing drawing_{960.0};
  double y_ = 4.0;  ///< where the next panel begins
};

}  // namespace switchwright
