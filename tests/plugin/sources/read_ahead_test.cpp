// SPDX-License-Identifier: GPL-3.0-or-later
// A source that counts, read in a thread: the same blocks, errors and damage come out in order.
#include "plugin/sources/read_ahead.hpp"

#include <gtest/gtest.h>

#include <stdexcept>

namespace airlatch {
namespace {

class Counting final : public Source {
 public:
  explicit Counting(int blocks, int throws_at = -1) : blocks_(blocks), throws_at_(throws_at) {
    channels_.resize(2);
    channels_[0].name = "even";
    channels_[1].name = "own times";
  }
  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }
  bool next(SampleBlock& block) override {
    if (done_ == throws_at_) throw std::runtime_error("as asked for");
    if (done_ == blocks_) return false;
    values_.assign(static_cast<std::size_t>(1 + done_ % 977), static_cast<float>(done_));
    times_.assign(values_.size(), done_);
    block = {};
    block.channel = static_cast<std::size_t>(done_ % 2);
    block.first = done_;
    block.values = values_;
    if (done_ % 2) block.times_ns = times_;
    ++done_;
    return true;
  }
  [[nodiscard]] std::string damage() const override {
    return done_ == blocks_ ? "it ended" : "asked too early";
  }

 private:
  int blocks_, throws_at_, done_ = 0;
  std::vector<SourceChannel> channels_;
  std::vector<float> values_;
  std::vector<std::int64_t> times_;
};

int check_blocks(ReadAhead& source) {
  SampleBlock block;
  int n = 0;
  while (source.next(block)) {
    EXPECT_EQ(block.first, n);
    EXPECT_EQ(block.channel, static_cast<std::size_t>(n % 2));
    EXPECT_EQ(block.values.size(), static_cast<std::size_t>(1 + n % 977));
    EXPECT_EQ(block.values.front(), static_cast<float>(n));
    EXPECT_EQ(block.values.back(), static_cast<float>(n));
    EXPECT_EQ(block.times_ns.empty(), n % 2 == 0);
    if (n % 2) {
      EXPECT_EQ(block.times_ns.back(), n);
    }
    ++n;
  }
  return n;
}

TEST(ReadAhead, TheSameBlocksInOrder) {
  ReadAhead source(std::make_unique<Counting>(3000));
  EXPECT_EQ(source.channels()[1].name, "own times");
  EXPECT_EQ(check_blocks(source), 3000);
  EXPECT_EQ(source.damage(), "it ended");
  SampleBlock block;
  EXPECT_FALSE(source.next(block));
}

TEST(ReadAhead, AnErrorComesAfterTheBlocksBeforeIt) {
  ReadAhead source(std::make_unique<Counting>(3000, 1500));
  SampleBlock block;
  for (int k = 0; k < 1500; ++k) ASSERT_TRUE(source.next(block)) << k;
  EXPECT_THROW(source.next(block), std::runtime_error);
}

TEST(ReadAhead, NobodyNeedsToReadToTheEnd) {
  for (int taken = 0; taken < 2000; taken += 333) {
    ReadAhead source(std::make_unique<Counting>(100'000));
    SampleBlock block;
    for (int k = 0; k < taken; ++k) ASSERT_TRUE(source.next(block));
  }
}

}  // namespace
}  // namespace airlatch
