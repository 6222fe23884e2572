// SPDX-License-Identifier: GPL-3.0-or-later
// Outputs that fail or stand still: nothing waits for them, and each says why.
#include "plugin/host/side_output.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <array>
#include <csignal>

namespace airlatch {
namespace {

class Pipe {
 public:
  Pipe() {
    EXPECT_EQ(::pipe2(ends.data(), O_CLOEXEC), 0);
    ::signal(SIGPIPE, SIG_IGN);
  }
  ~Pipe() {
    for (const int end : ends) ::close(end);
  }
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  [[nodiscard]] std::string read_all(std::size_t most) const {
    std::string text(most, ' ');
    const ssize_t n = ::read(ends[0], text.data(), most);
    text.resize(n > 0 ? static_cast<std::size_t>(n) : 0);
    return text;
  }
  std::array<int, 2> ends{};
};

TEST(SideOutput, AReaderThatStandsStillIsNotWaitedFor) {
  const Pipe pipe;
  SideOutput output(pipe.ends[1], "out");
  const std::string line(1000, 'a');
  std::size_t lines = 0;
  for (; output.failure().empty() && lines < 100'000; ++lines) output.write(line);
  EXPECT_EQ(output.failure(), "its reader stands still");
  EXPECT_GT(lines * line.size(), SideOutput::kMost_bytes);
  EXPECT_FALSE(output.reader_gone());
  output.write(line);
  EXPECT_TRUE(output.idle());  // nothing more is kept
}

TEST(SideOutput, AReaderThatGoesOnGetsAllInOrder) {
  const Pipe pipe;
  SideOutput output(pipe.ends[1], "out");
  std::string all, got;
  for (int n = 0; n < 50'000; ++n) {
    const std::string line = std::to_string(n) + "\n";
    output.write(line);
    all += line;
  }
  EXPECT_FALSE(output.idle());
  while (got.size() < all.size()) {
    got += pipe.read_all(10'000);
    output.pump();
  }
  EXPECT_EQ(got, all);
  EXPECT_TRUE(output.idle());
  EXPECT_TRUE(output.failure().empty());
}

TEST(SideOutput, AReaderThatHasGoneAndAFullDiskAreToldApart) {
  Pipe pipe;
  ::close(pipe.ends[0]);
  SideOutput gone(pipe.ends[1], "out");
  gone.write("text");
  EXPECT_EQ(gone.failure(), "its reader has gone");
  EXPECT_TRUE(gone.reader_gone());
  pipe.ends[0] = ::open("/dev/full", O_WRONLY | O_CLOEXEC);
  SideOutput full(pipe.ends[0], "out");
  full.write("text");
  EXPECT_EQ(full.failure(), "No space left on device");
  EXPECT_FALSE(full.reader_gone());
}

TEST(SideOutput, FinishingEndsWhenItIsStopped) {
  const Pipe pipe;
  SideOutput output(pipe.ends[1], "out");
  output.write(std::string(1 << 20, 'a'));
  int asked = 0;
  output.finish([&] { return ++asked > 3; });
  EXPECT_FALSE(output.idle());
}

}  // namespace
}  // namespace airlatch
