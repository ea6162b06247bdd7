// Straight axes for the pen: values to places, round ticks, a frame with titles.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "report/svg.hpp"

namespace switchwright::svg {

struct Scale {
  double from = 0.0, to = 1.0;        ///< values
  double from_px = 0.0, to_px = 1.0;  ///< places
  double px(double value) const {
    return to == from ? from_px : from_px + (value - from) / (to - from) * (to_px - from_px);
  }
};

/// Round tick values (1, 2, 5 times a power of ten), about `wanted` of them, inside [from, to].
std::vector<double> ticks(double from, double to, int wanted);
/// A tick's label with just the decimals that tell it from its neighbour.
std::string tick_label(double value, double step);

/// Axes with ticks, grid and titles around the plot. @param whole_x ticks at whole numbers only.
void frame(Drawing& drawing, const Scale& x, const Scale& y, std::string_view x_title, std::string_view y_title,
           bool y_grid_labels = true, bool whole_x = false);

}  // namespace switchwright::svg
