// SPDX-License-Identifier: GPL-3.0-or-later
// The queue towards a host, over a real pipe.
#include "plugin/live/send_queue.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <unistd.h>

#include <array>
#include <csignal>
#include <thread>

#include "plugin/live/message_frames.hpp"

namespace airlatch {
namespace {

constexpr int kValues = 1 << 18;  // of one message: a MiB

struct Pipe {
  std::array<int, 2> ends{};
  Pipe() {
    EXPECT_EQ(::pipe2(ends.data(), O_NONBLOCK), 0);
    ::signal(SIGPIPE, SIG_IGN);
  }
  ~Pipe() {
    close_end(0);
    close_end(1);
  }
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  void close_end(std::size_t end) {
    if (ends[end] >= 0) ::close(ends[end]);
    ends[end] = -1;
  }
};

v1::InstrumentMessage large(int number) {
  v1::InstrumentMessage message;
  message.mutable_block()->set_first_index(number);
  for (int k = 0; k < kValues; ++k) message.mutable_block()->add_values(1);
  return message;
}

// What comes out of the pipe within a second, whether or not the queue is called.
std::size_t received(const Pipe& pipe) {
  std::size_t bytes = 0;
  std::array<char, 65536> chunk{};
  for (pollfd wait = {pipe.ends[0], POLLIN, 0}; ::poll(&wait, 1, 1000) == 1;) {
    const ssize_t n = ::read(pipe.ends[0], chunk.data(), chunk.size());
    if (n <= 0) break;
    bytes += static_cast<std::size_t>(n);
  }
  return bytes;
}

// The next call may be a second away: an instrument's packets come when they come.
TEST(SendQueue, WhatWasAddedIsHandedOverWithoutAnotherCall) {
  const Pipe pipe;
  SendQueue queue(pipe.ends[1]);
  queue.add(large(0));  // much more than the pipe holds
  EXPECT_GT(received(pipe), sizeof(float) * kValues);
  EXPECT_EQ(queue.share(), 0.0F);
}

TEST(SendQueue, AHostThatStandsStillIsNotWaitedFor) {
  const Pipe pipe;
  SendQueue queue(pipe.ends[1]);
  int added = 0;
  for (; !queue.full(); ++added) {
    ASSERT_LT(added, 100);
    queue.add(large(added));
    // What the pipe itself holds goes into it with the first.
    for (int k = 0; added == 0 && k < 1000 && queue.share() > 15.0F / 256; ++k) ::usleep(1000);
    ASSERT_FALSE(queue.host_gone());
  }
  EXPECT_EQ(added, 17);  // 16 MiB and one message that goes beyond
  EXPECT_GE(queue.share(), 1.0F);
}

TEST(SendQueue, AHostThatComesBackGetsAllInOrder) {
  Pipe pipe;
  SendQueue queue(pipe.ends[1]);
  for (int n = 0; n < 5; ++n) queue.add(large(n));
  FrameReader reader;
  std::thread host([&] {
    std::array<char, 65536> chunk{};
    for (ssize_t n = -1; n != 0;) {  // until the other end is closed
      pollfd wait = {pipe.ends[0], POLLIN, 0};
      ::poll(&wait, 1, -1);
      n = ::read(pipe.ends[0], chunk.data(), chunk.size());
      if (n > 0) reader.append({chunk.data(), static_cast<std::size_t>(n)});
    }
  });
  EXPECT_TRUE(queue.flush());
  pipe.close_end(1);
  host.join();
  EXPECT_EQ(queue.share(), 0.0F);
  std::vector<v1::InstrumentMessage> messages;
  reader.take(messages);
  ASSERT_EQ(messages.size(), 5U);
  for (int n = 0; n < 5; ++n)
    EXPECT_EQ(messages[static_cast<std::size_t>(n)].block().first_index(), n);
}

TEST(SendQueue, AHostThatHasGoneIsNoticed) {
  Pipe pipe;
  SendQueue queue(pipe.ends[1]);
  pipe.close_end(0);
  queue.add(large(0));
  EXPECT_FALSE(queue.flush());
  EXPECT_TRUE(queue.host_gone());
}

}  // namespace
}  // namespace airlatch
