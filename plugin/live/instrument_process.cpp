// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/instrument_process.hpp"

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <cstring>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr int kPipe_bytes = 1 << 20;

void set_nonblocking(int fd) { ::fcntl(fd, F_SETFL, ::fcntl(fd, F_GETFL) | O_NONBLOCK); }

}  // namespace

InstrumentProcess::InstrumentProcess(const InstrumentSpec& spec, const InstrumentChild& child) {
  std::array<int, 2> ends{};
  if (::pipe2(ends.data(), O_CLOEXEC) != 0)
    throw InputError(ExitStatus::kNoInstrument, spec.text, "", std::strerror(errno), "try again");
  ::fcntl(ends[0], F_SETPIPE_SZ, kPipe_bytes);  // refused: the usual 64 KiB, and more wakings
  const pid_t parent = ::getpid();
  child_ = ::fork();
  if (child_ < 0) {
    const int error = errno;
    for (const int end : ends) ::close(end);
    throw InputError(ExitStatus::kNoInstrument, spec.text, "", std::strerror(error), "try again");
  }
  if (child_ == 0) {
    ::close(ends[0]);
    set_nonblocking(ends[1]);
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
    if (::getppid() != parent) ::_exit(0);  // it had gone before it could be watched
    ::signal(SIGINT, SIG_IGN);              // the terminal's Ctrl-C is the parent's to handle
    ::signal(SIGPIPE, SIG_IGN);
    child(spec, ends[1]);
    ::_exit(0);
  }
  ::close(ends[1]);
  fd_ = ends[0];
  set_nonblocking(fd_);
}

InstrumentProcess::~InstrumentProcess() {
  if (child_ > 0) {  // at any time: what it has reported is reported
    ::kill(child_, SIGKILL);
    ::waitpid(child_, nullptr, 0);
  }
  if (fd_ >= 0) ::close(fd_);
}

void InstrumentProcess::ask_to_end() const {
  if (child_ > 0) ::kill(child_, SIGTERM);
}

bool InstrumentProcess::read(std::vector<v1::InstrumentMessage>& messages) {
  bool open = true;
  std::array<char, 65536> chunk{};
  while (true) {
    const ssize_t n = ::read(fd_, chunk.data(), chunk.size());
    if (n > 0) {
      frames_.append({chunk.data(), static_cast<std::size_t>(n)});
      continue;
    }
    if (n < 0 && errno == EINTR) continue;
    open = n < 0 && errno == EAGAIN;
    break;
  }
  frames_.take(messages);
  return open;
}

}  // namespace airlatch
