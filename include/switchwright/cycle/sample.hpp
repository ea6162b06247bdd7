// One value of one channel at one time: what the cycle room takes in, from a meter or from a file.
#pragma once

#include <cstdint>

namespace switchwright {

enum class SampleKind : std::uint8_t {
  finite,       ///< `value` holds
  over_range,   ///< above anything the meter can show: counts as high, never as a number
  under_range,  ///< below anything the meter can show: counts as low, never as a number
};

struct Sample {
  double t_s = 0.0;    ///< seconds on one monotonic axis; any origin
  double value = 0.0;  ///< SI unit of the channel
  SampleKind kind = SampleKind::finite;
};

}  // namespace switchwright
