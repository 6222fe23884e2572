// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/terminal.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

TEST(Terminal, LongLinesAreBrokenAtBlanks) {
  EXPECT_EQ(wrapped("  one two three four five six\nshort\n", 20),
            "  one two three four\n      five six\nshort\n");
  EXPECT_EQ(wrapped("  one two three four five six\n", 0), "  one two three four five six\n");
  EXPECT_EQ(wrapped("averyverylongwordthatdoesnotfit\n", 20), "averyverylongwordthatdoesnotfit\n");
  // Signs of several bytes count once.
  EXPECT_EQ(wrapped("µµµµµ ±±±±± ΩΩΩΩΩ °°\n", 20), "µµµµµ ±±±±± ΩΩΩΩΩ °°\n");
}

}  // namespace
}  // namespace airlatch
