// Two terminals, by name. L1-H1 and H1-L1 are the same pair; the order given is kept for display.
#pragma once

#include <compare>
#include <string>
#include <utility>

namespace switchwright {

class Pair {
 public:
  Pair() = default;
  Pair(std::string first, std::string second) : first_(std::move(first)), second_(std::move(second)) {}

  const std::string& first() const { return first_; }
  const std::string& second() const { return second_; }
  bool has(const std::string& terminal) const { return first_ == terminal || second_ == terminal; }
  /// The terminal that both pairs have, or an empty string.
  std::string shared_with(const Pair& other) const;
  /// "L1-H1", in the order given.
  std::string text() const { return first_ + "-" + second_; }

  friend bool operator==(const Pair& a, const Pair& b) { return a.sorted() == b.sorted(); }
  friend std::strong_ordering operator<=>(const Pair& a, const Pair& b) { return a.sorted() <=> b.sorted(); }

 private:
  std::pair<const std::string&, const std::string&> sorted() const {
    return first_ <= second_ ? std::pair<const std::string&, const std::string&>{first_, second_}
                             : std::pair<const std::string&, const std::string&>{second_, first_};
  }
  std::string first_;
  std::string second_;
};

}  // namespace switchwright
