// The quick way to read a number against the thorough one, which stands on std::from_chars.
#include "plugin/sources/text_cells.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "plugin/rehearse/random.hpp"

namespace airlatch {
namespace {

TEST(PlainNumber, IsTheNumberThatTheThoroughReaderGives) {
  Random random(3);
  const std::string alphabet = "0123456789012345678901234567890123456789..,-e+ \"x";
  int quick = 0;
  for (int k = 0; k < 400'000; ++k) {
    std::string cell;
    for (std::size_t n = random.bits() % 17; n > 0; --n)
      cell += alphabet[random.bits() % (k % 2 ? alphabet.size() : 41)];
    const bool comma = k % 3 == 0;
    const std::string line = cell + ";7" + std::string(kReadBehind, '9');
    const char* at = line.data();
    PlainNumber number;
    if (!plain_number(at, line.data() + cell.size() + 2, ';', comma, number)) {
      EXPECT_EQ(at, line.data());
      continue;
    }
    ++quick;
    EXPECT_EQ(at, line.data() + cell.size()) << cell;
    const auto thorough = parse_value(cell, comma);
    ASSERT_TRUE(thorough) << cell;
    EXPECT_EQ(number.value(), *thorough) << cell;
    EXPECT_EQ(std::signbit(number.value()), std::signbit(*thorough)) << cell;
  }
  EXPECT_GT(quick, 50'000);
}

TEST(PlainNumber, LeavesEverythingElseAlone) {
  for (const std::string cell :
       {"", "-", ".", "-.", "1e5", "+1", " 1", "1 ", "nan", "1.2.3", "OL", "1234567890123456",
        "0.1234567890123456", "99999999999999999999999"}) {
    const std::string line = cell + std::string(kReadBehind, '9');
    const char* at = line.data();
    PlainNumber number;
    EXPECT_FALSE(plain_number(at, line.data() + cell.size(), ',', false, number)) << cell;
  }
}

}  // namespace
}  // namespace airlatch
