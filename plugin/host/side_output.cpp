// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/side_output.hpp"

#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <climits>
#include <cstring>

namespace airlatch {

void SideOutput::write(const std::string& text) {
  if (!failure_.empty()) return;
  waiting_ += text;
  pump();
  if (waiting_.size() > kMost_bytes) fail("its reader stands still");
}

void SideOutput::pump() {
  std::size_t done = 0;
  while (done < waiting_.size() && takes(0)) {
    // A pipe that can be written to takes as much as this without waiting.
    const std::size_t most = std::min<std::size_t>(PIPE_BUF, waiting_.size() - done);
    const ssize_t n = ::write(fd_, waiting_.data() + done, most);
    if (n < 0 && errno == EAGAIN) break;
    if (n < 0 && errno != EINTR) {
      reader_gone_ = errno == EPIPE;
      return fail(reader_gone_ ? "its reader has gone" : std::strerror(errno));
    }
    done += n > 0 ? static_cast<std::size_t>(n) : 0;
  }
  waiting_.erase(0, done);
}

void SideOutput::finish(const std::function<bool()>& stopped) {
  constexpr int kRound_ms = 100;
  while (!idle() && !stopped())
    if (takes(kRound_ms)) pump();
}

bool SideOutput::takes(int wait_ms) const {
  pollfd wait = {fd_, POLLOUT, 0};
  return ::poll(&wait, 1, wait_ms) == 1;
}

void SideOutput::fail(const std::string& why) {
  failure_ = why;
  waiting_.clear();
}

}  // namespace airlatch
