// What must hold for every decoder whatever arrives: how the bytes are cut does not matter, garbage costs at
// most the frame beside it, and no reading ever comes from bytes without the structure that the frame is
// published to have.
#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <regex>

#include "decoder_bench.hpp"
#include "worked_frames.hpp"

using namespace switchwright;
using namespace switchwright::test;

namespace {

std::string stream_of(const WorkedFrames& worked) {
  std::string bytes;
  for (const std::string& frame : worked.frames) bytes += frame;
  return bytes;
}

std::string low_seven(std::string bytes) {
  for (char& c : bytes) c = static_cast<char>(c & 0x7F);
  return bytes;
}

/// The published shape of each frame, written down a second time and in another way than in the decoders.
bool has_published_structure(const std::string& definition, const std::string& raw) {
  static const std::map<std::string, std::regex> shapes{
      {"ascii-nibble-11", std::regex("[0-?][0-9]{4}[0-?]{4}\r\n")},
      {"ascii-nibble-14", std::regex("[0-?][0-9]{5}[0-?]{6}\r\n")},
      {"ascii-status-14", std::regex("[+-]([0-9]{4}|\\?0:\\?) [\\s\\S]{6}\r\n")},
      {"framed-text-16", std::regex("\x02"
                                    "4[12][0-9]{2}[01][0-3][0-9]{8}\r")},
      {"scpi", std::regex("[ -~\t\r]*[\r\n]")},
      {"text-14", std::regex("[ \n]*(DC|AC|OH) *[+-]?[0-9O].{3,}[ \n]*\r")},
      {"text-line-units", std::regex("[ \"\r]*[0-9]+ *[A-Z]{3} [ -~]+[ \"\r]*\n")},
  };
  if (definition == "lcd-segment-14") {
    if (raw.size() != 14) return false;
    for (std::size_t i = 0; i < raw.size(); ++i)
      if (static_cast<unsigned char>(raw[i]) >> 4 != i + 1) return false;
    return true;
  }
  const bool seven_bits = definition.starts_with("ascii-nibble");
  return std::regex_match(seven_bits ? low_seven(raw) : raw, shapes.at(definition));
}

/// Every byte fed is in a reading's frame or counted as skipped. Several SCPI readings share one line.
void check_accounts(const WorkedFrames& worked, Decoder& decoder, const std::string& fed,
                    const std::vector<Reading>& readings) {
  decoder.reset();
  if (worked.definition == "scpi") return;
  std::size_t in_frames = 0;
  for (const Reading& reading : readings) in_frames += reading.raw.size();
  RC_ASSERT(decoder.counts().accepted == readings.size());
  RC_ASSERT(in_frames + decoder.counts().skipped_bytes == fed.size());
}

template <typename Property>
void for_each_definition(Property property) {
  for (const WorkedFrames& worked : worked_frames()) {
    INFO(worked.definition);
    const MeterDefinition definition = definition_of(worked.definition);
    CHECK(rc::check(worked.definition, [&] { property(worked, definition); }));
  }
}

std::string random_bytes(int most) {
  const auto bytes = *rc::gen::container<std::vector<unsigned char>>(rc::gen::arbitrary<unsigned char>());
  return std::string(bytes.begin(), bytes.begin() + std::min<std::ptrdiff_t>(std::ssize(bytes), most));
}

}  // namespace

TEST_CASE("readings do not depend on how the bytes are cut") {
  for_each_definition([](const WorkedFrames& worked, const MeterDefinition& definition) {
    const std::string bytes = stream_of(worked) + stream_of(worked);
    const auto whole = decode(*make_decoder(definition), bytes);
    RC_ASSERT(whole.size() == 2 * worked.frames.size());
    const auto decoder = make_decoder(definition);
    std::vector<Reading> readings;
    for (std::size_t at = 0; at < bytes.size();) {
      const auto size = static_cast<std::size_t>(*rc::gen::inRange(1, 40));
      decoder->feed(std::string_view(bytes).substr(at, size), {}, readings);
      at += size;
    }
    RC_ASSERT(text_of(readings) == text_of(whole));
    check_accounts(worked, *decoder, bytes, readings);
  });
}

TEST_CASE("garbage in front costs no frame when it ends and one frame when it runs into it") {
  for_each_definition([](const WorkedFrames& worked, const MeterDefinition& definition) {
    const std::string bytes = stream_of(worked);
    const std::string expected = text_of(decode(*make_decoder(definition), bytes));
    const std::string garbage = random_bytes(200);
    const auto ends_with = [](const std::string& text, const std::string& end) {
      return text.size() >= end.size() && text.compare(text.size() - end.size(), end.size(), end) == 0;
    };
    RC_ASSERT(ends_with(text_of(decode(*make_decoder(definition), garbage + "\r\n" + bytes)), expected));
    RC_ASSERT(ends_with(text_of(decode(*make_decoder(definition), garbage + worked.frames[0] + bytes)), expected));
  });
}

TEST_CASE("damaged bytes never give a reading from a frame without its structure") {
  for_each_definition([](const WorkedFrames& worked, const MeterDefinition& definition) {
    std::string bytes = stream_of(worked) + stream_of(worked) + stream_of(worked);
    const int damages = *rc::gen::inRange(1, 12);
    for (int i = 0; i < damages; ++i) {
      const auto at = static_cast<std::size_t>(*rc::gen::inRange<int>(0, static_cast<int>(bytes.size())));
      const char byte = static_cast<char>(*rc::gen::arbitrary<unsigned char>());
      switch (*rc::gen::inRange(0, 3)) {
        case 0: bytes[at] = byte; break;
        case 1: bytes.erase(at, 1); break;
        default: bytes.insert(at, 1, byte); break;
      }
    }
    const auto decoder = make_decoder(definition);
    const auto readings = decode(*decoder, bytes);
    for (const Reading& reading : readings) {
      RC_ASSERT(has_published_structure(worked.definition, reading.raw));
      RC_ASSERT(bytes.find(reading.raw) != std::string::npos);
    }
    check_accounts(worked, *decoder, bytes, readings);
  });
}

TEST_CASE("bytes of chance alone never crash a decoder and are all accounted for") {
  for_each_definition([](const WorkedFrames& worked, const MeterDefinition& definition) {
    const std::string bytes = random_bytes(2000);
    const auto decoder = make_decoder(definition);
    const auto readings = decode(*decoder, bytes);
    for (const Reading& reading : readings) RC_ASSERT(has_published_structure(worked.definition, reading.raw));
    check_accounts(worked, *decoder, bytes, readings);
  });
}

TEST_CASE("a NUL in place of a byte damaged by parity spoils its frame") {
  // A byte with a parity error arrives as NUL (observed on Linux). Bytes 7 to 11 of ascii-status-14 may be
  // NUL.
  for (const WorkedFrames& worked : worked_frames()) {
    const MeterDefinition definition = definition_of(worked.definition);
    for (const std::string& frame : worked.frames)
      for (std::size_t i = 0; i < frame.size(); ++i) {
        if (worked.definition == "ascii-status-14" && i >= 6 && i <= 11) continue;
        std::string damaged = frame;
        damaged[i] = '\0';
        INFO(worked.definition << " " << to_hex(damaged));
        CHECK(text_of(decode(*make_decoder(definition), damaged)) == "");
      }
  }
}

TEST_CASE("a single flipped bit is always found where the parity bit comes along") {
  // Odd parity finds every single error. 147000300020 CR LF with its parity bits in bit 7.
  const std::string frame = from_hex("31 34 37 B0 B0 B0 B3 B0 B0 B0 32 B0 0D 8A");
  const MeterDefinition definition = definition_of("ascii-nibble-14");
  REQUIRE(decode(*make_decoder(definition), frame).size() == 1);
  for (std::size_t i = 0; i < frame.size(); ++i)
    for (int bit = 0; bit < 8; ++bit) {
      std::string damaged = frame;
      damaged[i] = static_cast<char>(damaged[i] ^ (1 << bit));
      INFO(to_hex(damaged));
      CHECK(decode(*make_decoder(definition), damaged).empty());
    }
}

TEST_CASE("a torn frame is counted and the next one is read") {
  for (const WorkedFrames& worked : worked_frames()) {
    if (worked.definition == "scpi") continue;  // a shorter number is a number: the line end is all there is
    INFO(worked.definition);
    const auto decoder = make_decoder(definition_of(worked.definition));
    const std::string& frame = worked.frames[0];
    for (std::size_t cut = 1; cut < frame.size(); ++cut) {
      const auto readings = decode(*decoder, frame.substr(0, cut) + worked.frames[1] + worked.frames[0]);
      REQUIRE(!readings.empty());
      CHECK(readings.back().raw == worked.frames[0]);
    }
    CHECK(decoder->counts().rejected_total() >= frame.size() / 2);
  }
}

TEST_CASE("the rest of a frame that comes much later is not joined to its beginning") {
  const auto decoder = make_decoder(definition_of("lcd-segment-14"));
  const std::string frame = worked_frames()[4].frames[0];
  std::vector<Reading> readings;
  Instant at;
  decoder->feed(frame.substr(0, 7), at, readings);
  at.monotonic += std::chrono::seconds(1);
  decoder->feed(frame.substr(7), at, readings);
  CHECK(readings.empty());
  CHECK(decoder->counts().rejected.at("torn frame") == 1);
}

TEST_CASE("what a display cannot show is rejected by reason") {
  struct Row {
    const char* definition;
    const char* hex;
    const char* reason;
  };
  // The frame 4.700 kohm AUTO of the reference with one change each.
  const Row rows[] = {
      {"lcd-segment-14", "13 22 36 49 55 67 7D 87 9D A2 B0 C4 D0 E0", "unknown digit pattern"},
      {"lcd-segment-14", "13 22 37 49 55 6F 7D 87 9D A2 B0 C4 D0 E0", "more than one decimal point"},
      {"lcd-segment-14", "13 22 37 48 50 67 7D 87 9D A2 B0 C4 D0 E0", "blank inside the digits"},
      {"lcd-segment-14", "13 20 30 40 50 60 70 80 90 A2 B0 C4 D0 E0", "no digits"},
      {"lcd-segment-14", "13 22 37 49 55 67 7D 87 9D A2 B0 C4 D4 E0", "no unit or two units or two prefixes"},
      {"lcd-segment-14", "13 22 37 49 55 67 7D 87 9D A2 B2 C4 D0 E0", "no unit or two units or two prefixes"},
      {"lcd-segment-14", "13 22 37 49 55 67 7D 87 9D A0 B0 C0 D0 E0", "no unit or two units or two prefixes"},
      {"lcd-segment-14", "13 22 37 49 55 66 78 87 9D A2 B0 C4 D0 E0", "digits around the over-range sign"},
      {"lcd-segment-14", "13 20 32 40 52 60 72 80 92 A2 B0 C4 D0 E0", "dashes in place of digits"},
      {"lcd-segment-14", "13 22 37 49 55 67 7D 87 9D A2 B0 C4 D0 E1", "symbol that the definition does not list"},
      {"lcd-segment-14", "1F 22 37 49 55 67 7D 87 9D A0 B0 C0 D4 E0", "unit and function contradict each other"},
      // 147000300020 with one change each
      {"ascii-nibble-14", "31 34 3A 30 30 30 33 30 30 30 32 30 0D 0A", "unknown digit"},
      {"ascii-nibble-14", "37 34 37 30 30 30 33 30 30 30 32 30 0D 0A", "range that the definition does not list"},
      {"ascii-nibble-14", "31 34 37 30 30 30 3E 30 30 30 32 30 0D 0A", "function that the definition does not list"},
      {"ascii-nibble-14", "31 34 37 30 30 30 33 30 30 31 32 30 0D 0A", "symbol that the definition does not list"},
      {"ascii-nibble-14", "31 34 37 30 30 30 33 30 30 30 32 30 30 0A", "no carriage return at the end"},
      {"ascii-nibble-14", "31 34 37 30 30 30 33 30 30 30 40 30 0D 0A", "damaged byte"},
      {"ascii-nibble-14", "31 34 37 30 30 30 33 30 30 30 32 30 0D 8A", "parity error"},
      {"ascii-nibble-14", "34 37 30 30 30 33 30 30 30 32 30 0D 0A", "torn frame"},
      {"ascii-nibble-14", "31 31 34 37 30 30 30 33 30 30 30 32 30 0D 0A", "frame of another length"},
      // 4.700 kohm AUTO with one change each
      {"ascii-status-14", "2B 34 37 30 30 20 39 20 00 20 20 00 0D 0A",
       "place of the point that the definition does not list"},
      {"ascii-status-14", "2B 34 37 30 30 20 31 20 00 20 10 00 0D 0A", "symbol that the definition does not list"},
      {"ascii-status-14", "2B 34 37 30 30 20 31 20 00 20 A0 00 0D 0A", "no unit or two units or two prefixes"},
      // -12.34 V DC with one change each
      {"framed-text-16", "02 34 32 33 34 31 32 30 30 30 30 31 32 33 34 0D", "frame of the other display"},
      {"framed-text-16", "02 34 31 39 39 31 32 30 30 30 30 31 32 33 34 0D", "unit that the definition does not list"},
      {"framed-text-16", "02 34 31 33 34 32 32 30 30 30 30 31 32 33 34 0D", "unknown polarity"},
      {"framed-text-16", "02 34 31 33 34 31 34 30 30 30 30 31 32 33 34 0D", "unknown place of the point"},
      {"framed-text-16", "02 34 31 33 34 31 32 30 30 30 30 31 32 33 41 0D", "unknown digit"},
      {"framed-text-16", "02 34 31 33 34 31 32 30 30 30 31 32 33 34 0D", "torn frame"},
  };
  for (const Row& row : rows) {
    INFO(row.definition << " " << row.hex);
    const auto decoder = make_decoder(definition_of(row.definition));
    CHECK(text_of(decode(*decoder, from_hex(row.hex))) == "");
    CHECK(decoder->counts().rejected_total() == 1);
    CHECK(decoder->counts().rejected.count(row.reason) == 1);
  }
}
