// Which units of a carton are taken: numbers from 1, the same on every platform for the same seed.
//
// The algorithm, so that anybody can draw them again: the generator is the 64-bit Mersenne twister of the C++ standard
// (std::mt19937_64) seeded with the one number. A whole number below m is the first of its outputs that is below the largest
// multiple of m that 2^64 holds, taken modulo m.
//   random      the units 1..N stand in a row; for i = 0, 1, ... n - 1 the unit at i changes places with the one at i + (a number
//               below N - i); the first n are the sample, in this order.
//   systematic  s is a number below N; unit i is floor((s + i N) / n) + 1 for i = 0, 1, ... n - 1.
// Fenced: lots that were drawn must be drawable again. Do not change.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace switchwright {

enum class DrawingMethod { random, systematic };
std::string to_string(DrawingMethod method);
/// @throws Error(usage).
DrawingMethod drawing_method_named(std::string_view name);

/// `sample_size` different numbers of 1..lot_size in the order drawn. @throws Error(usage) where the sample exceeds the lot.
std::vector<long> draw_units(long lot_size, long sample_size, DrawingMethod method, std::uint64_t seed);

/// A unit in the place of one that is lost: the next one that the same random drawing would have given and that is not in `taken`;
/// nothing left: 0.
long draw_replacement(long lot_size, const std::vector<long>& taken, std::uint64_t seed);

}  // namespace switchwright
