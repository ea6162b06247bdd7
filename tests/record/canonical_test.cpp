#include "switchwright/record/canonical.hpp"

#include <doctest/doctest.h>

#include <bit>
#include <cstdint>
#include <nlohmann/json.hpp>

#include "switchwright/record/sha256.hpp"

using namespace switchwright;

TEST_CASE("numbers are written as RFC 8785 appendix B lists them") {
  // RFC 8785, appendix B "Number Serialization Samples": IEEE 754 bits and the expected text (from memory of
  // the RFC).
  struct Row {
    std::uint64_t bits;
    const char* text;
  };
  const Row rows[] = {
      {0x0000000000000000, "0"},
      {0x8000000000000000, "0"},
      {0x0000000000000001, "5e-324"},
      {0x8000000000000001, "-5e-324"},
      {0x7fefffffffffffff, "1.7976931348623157e+308"},
      {0x4340000000000000, "9007199254740992"},
      {0x4430000000000000, "295147905179352830000"},
      {0x44b52d02c7e14af5, "9.999999999999997e+22"},
      {0x44b52d02c7e14af6, "1e+23"},
      {0x444b1ae4d6e2ef4e, "999999999999999700000"},
      {0x444b1ae4d6e2ef50, "1e+21"},
      {0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
      {0x3eb0c6f7a0b5ed8d, "0.000001"},
      {0x41b3de4355555553, "333333333.3333332"},
      {0x41b3de4355555554, "333333333.33333325"},
      {0x41b3de4355555555, "333333333.3333333"},
      {0xbecbf647612f3696, "-0.0000033333333333333333"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    CHECK(canonical_number(std::bit_cast<double>(row.bits)) == row.text);
  }
}

TEST_CASE("a document is written with sorted keys and no white space") {
  const auto document =
      nlohmann::json::parse(R"({"b": [1, 2.50, true, null], "a": {"y": "\u20ac\n\u001f", "x": 1e2}})");
  CHECK(canonical_bytes(document) == "{\"a\":{\"x\":100,\"y\":\"\xE2\x82\xAC\\n\\u001f\"},\"b\":[1,2.5,true,null]}");
}

TEST_CASE("a number that JSON cannot hold is refused") {
  CHECK_THROWS_AS(canonical_number(1.0 / 0.0), std::domain_error);
}

TEST_CASE("SHA-256 of the published messages") {
  // FIPS 180-4 example messages: "abc", and the empty message.
  CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}
