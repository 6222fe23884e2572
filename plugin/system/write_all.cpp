// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/write_all.hpp"

#include <poll.h>
#include <unistd.h>

#include <cerrno>

namespace airlatch {

bool write_all(int fd, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(fd, bytes.data(), bytes.size());
    if (written >= 0) {
      bytes.remove_prefix(static_cast<std::size_t>(written));
    } else if (errno == EAGAIN) {
      pollfd ready = {fd, POLLOUT, 0};
      ::poll(&ready, 1, -1);
    } else if (errno != EINTR) {
      return false;
    }
  }
  return true;
}

}  // namespace airlatch
