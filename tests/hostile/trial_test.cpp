// SPDX-License-Identifier: GPL-3.0-or-later
// What the campaign counts as clear must be able to fail.
#include "tests/hostile/trial.hpp"

#include <gtest/gtest.h>

#include "tests/support/sanitized.hpp"

namespace airlatch::hostile {
namespace {

TEST(Trial, OneErrorLineIsClearAndNotesMayComeBeforeIt) {
  EXPECT_EQ(unclear("airlatch: a.csv, line 3: \"x\" is no number; correct it\n"), "");
  EXPECT_EQ(unclear("airlatch: note: a.csv was cut\nairlatch: a.csv: no samples; \xC2\xB5\n"), "");
}

TEST(Trial, AnythingElseIsUnclear) {
  for (const char* const text :
       {"", "airlatch: no line end", "libfoo ERROR\nairlatch: a: b\n", "airlatch: a\nairlatch: b\n",
        "airlatch: \x1B[31mred\n", "airlatch: right to left \xE2\x80\xAE mark\n",
        "airlatch: latin \xE9 letter\n", "airlatch: overlong \xC0\xAF\n",
        "airlatch: cut \xE2\x82\n", "airlatch: note: only a note\n"})
    EXPECT_NE(unclear(text), "") << text;
  EXPECT_NE(unclear("airlatch: " + std::string(1000, 'a') + "\n"), "");
}

TEST(Trial, OutcomesAreSorted) {
  EXPECT_EQ(run_trial({"--version"}).outcome, Outcome::kDone);
  EXPECT_EQ(run_trial({"replay", "no-such-file"}).outcome, Outcome::kRefused);
  EXPECT_EQ(run_trial({"pipe"}, "/dev/zero", {.time = std::chrono::milliseconds(0)}).outcome,
            Outcome::kHung);
  EXPECT_EQ(run_trial({"--version"}, "/dev/null", {.memory_kib = 1}).outcome,
            test::kSanitized ? Outcome::kDone : Outcome::kTooLarge);
}

}  // namespace
}  // namespace airlatch::hostile
