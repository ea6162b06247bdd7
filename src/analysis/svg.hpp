// A drawing surface for the pictures: shapes in, SVG text out. Colours are classes, so that one style sheet
// serves light and dark ground.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace switchwright::svg {

/// Escapes text for XML and drops what XML 1.0 cannot hold.
std::string escaped(std::string_view text);

/// A straight axis: values to pixels.
struct Scale {
  double from = 0.0, to = 1.0;        ///< values
  double from_px = 0.0, to_px = 1.0;  ///< pixels
  double px(double value) const {
    return to == from ? from_px : from_px + (value - from) / (to - from) * (to_px - from_px);
  }
};

/// Round tick values (1, 2, 5 times a power of ten), about `wanted` of them, inside [from, to].
std::vector<double> ticks(double from, double to, int wanted);
/// A tick's label with just the decimals that tell it from its neighbour.
std::string tick_label(double value, double step);

class Canvas {
 public:
  static constexpr double width = 960.0;

  void line(double x1, double y1, double x2, double y2, std::string_view style);
  void rect(double x, double y, double w, double h, std::string_view style);
  void dot(double x, double y, double r, std::string_view style);
  /// A path from ready-made commands.
  void path(const std::string& commands, std::string_view style);
  void text(double x, double y, std::string_view text, std::string_view style);
  /// Axes with ticks, grid and titles around the plot [left, right] x [top, bottom]. @param whole_x ticks at
  /// whole numbers only.
  void frame(const Scale& x, const Scale& y, std::string_view x_title, std::string_view y_title,
             bool y_grid_labels = true, bool whole_x = false);

  /// What has been drawn, without the document around it.
  const std::string& body() const { return body_; }

 private:
  std::string body_;
};

/// The document: title for screen readers, style sheet, ground.
std::string document(double height, std::string_view title, const std::string& body);

}  // namespace switchwright::svg
