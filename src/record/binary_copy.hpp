// Rows as PostgreSQL's COPY takes them in its binary form (PostgreSQL's manual, COPY, "Binary Format"): the server need not read
// numbers and times from text.
#pragma once

#include <bit>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>

namespace switchwright {

class BinaryCopy {
 public:
  BinaryCopy() : bytes_("PGCOPY\n\xFF\r\n\0", 11) { bytes_.append(8, '\0'); }  // signature, flags, no extension
  void row(std::int16_t fields) { put(static_cast<std::uint16_t>(fields)); }
  void null() { put(~std::uint32_t{0}); }
  void text(std::string_view value) {
    put(static_cast<std::uint32_t>(value.size()));
    bytes_ += value;
  }
  void integer(std::int32_t value) {
    put(std::uint32_t{4});
    put(static_cast<std::uint32_t>(value));
  }
  void bigint(std::int64_t value) {
    put(std::uint32_t{8});
    put(static_cast<std::uint64_t>(value));
  }
  void real(double value) {
    put(std::uint32_t{8});
    put(std::bit_cast<std::uint64_t>(value));
  }
  /// The whole; nothing may be added afterwards.
  std::string end() {
    put(static_cast<std::uint16_t>(0xFFFF));
    return std::move(bytes_);
  }

 private:
  template <class Number>
  void put(Number number) {  // most significant byte first
    for (int shift = 8 * (static_cast<int>(sizeof number) - 1); shift >= 0; shift -= 8)
      bytes_ += static_cast<char>((number >> shift) & 0xFF);
  }
  std::string bytes_;
};

}  // namespace switchwright
