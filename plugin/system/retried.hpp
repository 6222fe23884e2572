// SPDX-License-Identifier: GPL-3.0-or-later
// retried.hpp: a system call that a signal may interrupt, made until it is not.
#pragma once
#include <cerrno>

namespace airlatch {

// What `call` returns, -1 with errno where it failed for another reason than EINTR.
template <typename Call>
auto retried(Call&& call) {
  while (true) {
    const auto result = call();
    if (result != -1 || errno != EINTR) return result;
  }
}

}  // namespace airlatch
