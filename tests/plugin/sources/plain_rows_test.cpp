// SPDX-License-Identifier: GPL-3.0-or-later
// The quick way to read rows against the thorough one, which stands on std::from_chars.
#include "plugin/sources/plain_rows.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "plugin/rehearse/random.hpp"
#include "plugin/sources/text_cells.hpp"

namespace airlatch {
namespace {

struct Taken {
  PlainRows rows;
  std::vector<std::vector<float>> values;
  std::vector<std::int64_t> times_ns;
};

Taken take(const std::string& text, const PlainLayout& layout, std::size_t columns,
           std::int64_t after_ns = -1, std::optional<std::size_t> room = {}, bool narrow = false) {
  const std::size_t most =
      room.value_or(1 + static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n')));
  // What lies beside the text must not matter: digits would be taken for its own.
  const std::string padded = std::string(kTextSlack, '7') + text + std::string(kTextSlack, '7');
  Taken out{{}, std::vector(columns, std::vector<float>(most)), std::vector<std::int64_t>(most)};
  std::vector<PlainColumn> to;
  for (auto& column : out.values) to.push_back({.scale = 1, .offset = 0, .to = column.data()});
  out.rows = take_plain_rows(std::string_view(padded).substr(kTextSlack, text.size()), layout, to,
                             layout.time ? out.times_ns.data() : nullptr, after_ns, most, narrow);
  return out;
}

TEST(PlainRows, GivesTheNumberThatTheThoroughReaderGives) {
  Random random(3);
  const std::string alphabet = "0123456789012345678901234567890123456789..,-e+ \"x";
  int quick = 0;
  for (int k = 0; k < 200'000; ++k) {
    std::string cell;
    for (std::size_t n = random.bits() % 17; n > 0; --n)
      cell += alphabet[random.bits() % (k % 2 ? alphabet.size() : 41)];
    const bool comma = k % 3 == 0;
    const PlainLayout layout{.separator = ';', .comma = comma};
    const Taken taken = take(cell + ";7\n", layout, 2, -1, 1);
    const Taken narrow = take(cell + ";7\n", layout, 2, -1, 1, true);
    EXPECT_EQ(narrow.rows.rows, taken.rows.rows) << cell;
    if (taken.rows.rows == 0) {
      EXPECT_EQ(taken.rows.bytes, 0U);
      continue;
    }
    ++quick;
    EXPECT_EQ(taken.rows.bytes, cell.size() + 3);
    const auto thorough = parse_value(cell, comma);
    ASSERT_TRUE(thorough) << cell;
    EXPECT_EQ(taken.values[0][0], static_cast<float>(*thorough)) << cell;
    EXPECT_EQ(narrow.values[0][0], taken.values[0][0]) << cell;
    EXPECT_EQ(taken.values[1][0], 7) << cell;
  }
  EXPECT_GT(quick, 25'000);
}

TEST(PlainRows, LeavesEveryOtherCellAlone) {
  for (const std::string cell :
       {"", "-", ".", "-.", "1e5", "+1", " 1", "1 ", "nan", "1.2.3", "OL", "1234567890123456",
        "0.1234567890123456", "99999999999999999999999", "--1", "1-", "#1", "\"1\"", "1\r"})
    for (const bool first : {true, false}) {
      const std::string row = first ? cell + ",2\n" : "2," + cell + ",3\n";
      EXPECT_EQ(take("1,2" + std::string(first ? "\n" : ",3\n") + row, {}, first ? 2 : 3).rows.rows,
                1U)
          << cell;
    }
}

TEST(PlainRows, TakesRowsOfAnyWidthUntilOneIsNotPlain) {
  for (std::size_t columns = 1; columns < 70; columns += 3)
    for (const std::string end : {"\n", "\r\n"}) {
      std::string text;
      const std::size_t rows = 20'000 / columns;
      for (std::size_t r = 0; r < rows; ++r)
        for (std::size_t c = 0; c < columns; ++c)
          text += std::to_string(r) + "." + std::to_string(c) + (c + 1 < columns ? "," : end);
      const Taken all = take(text, {}, columns);
      ASSERT_EQ(all.rows.rows, rows);
      EXPECT_EQ(all.rows.bytes, text.size());
      EXPECT_TRUE(take(text, {}, columns, -1, {}, true).values == all.values) << columns;
      for (std::size_t r = 0; r < rows; ++r)
        for (std::size_t c = 0; c < columns; ++c)
          ASSERT_EQ(all.values[c][r], std::stof(std::to_string(r) + "." + std::to_string(c)));
      // An open last row, a row too long and one too short are left; so are rows beyond the room.
      const std::string row = text.substr(0, text.find('\n') + 1);
      EXPECT_EQ(take(text + "1", {}, columns).rows.bytes, text.size());
      EXPECT_EQ(take(fmt::format("{}1,{}{}", row, row, row), {}, columns).rows.rows, 1U);
      EXPECT_EQ(take(fmt::format("{}{}{}", row, end, row), {}, columns).rows.rows, 1U);
      EXPECT_EQ(take(text, {}, columns, -1, 7).rows.rows, 7U);
    }
}

TEST(PlainRows, TimesRiseAndKeepTheirDigits) {
  const PlainLayout layout{.separator = '\t', .time = true};
  const Taken taken = take("0.5\t1\n0.75\t2\n1\t3\n1.000000001\t4\n", layout, 1);
  ASSERT_EQ(taken.rows.rows, 4U);
  EXPECT_EQ(taken.times_ns[0], 500'000'000);
  EXPECT_EQ(taken.times_ns[1], 750'000'000);
  EXPECT_EQ(taken.times_ns[2], 1'000'000'000);
  EXPECT_EQ(taken.times_ns[3], 1'000'000'001);
  EXPECT_EQ(taken.rows.last_ns, 1'000'000'001);
  EXPECT_EQ(taken.rows.resolution_ns, 1);
  EXPECT_EQ(take("3.25\t1\n", layout, 1).rows.resolution_ns, 10'000'000);
  EXPECT_EQ(taken.rows.step_ns, 0);
  EXPECT_EQ(take("3.25\t1\n", layout, 1).rows.step_ns, 0);
  EXPECT_EQ(take("0\t1\n0.25\t2\n.5\t3\n", layout, 1).rows.step_ns, 250'000'000);
  EXPECT_EQ(take("0\t1\n0.25\t2\n0.5\t3\n0.751\t3\n1.002\t3\n", layout, 1).rows.step_ns, 0);
  // Times that stand still, go back, lie before zero or say more than a nanosecond are left.
  EXPECT_EQ(take("1\t1\n1\t2\n", layout, 1).rows.rows, 1U);
  EXPECT_EQ(take("1\t1\n", layout, 1, 1'000'000'000).rows.rows, 0U);
  EXPECT_EQ(take("-1\t1\n", layout, 1, -5'000'000'000).rows.rows, 0U);
  EXPECT_EQ(take("0.0000000001\t1\n", layout, 1).rows.rows, 0U);
  EXPECT_EQ(take("9999999999999\t1\n", layout, 1).rows.rows, 0U);  // beyond 64 bits of ns
}

}  // namespace
}  // namespace airlatch
