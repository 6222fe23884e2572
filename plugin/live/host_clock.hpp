// SPDX-License-Identifier: GPL-3.0-or-later
// host_clock.hpp: the clock that live samples are timed by (CLOCK_MONOTONIC).
#pragma once
#include <cstdint>
#include <ctime>

namespace airlatch {

inline std::int64_t host_now_ns() {
  timespec t{};
  ::clock_gettime(CLOCK_MONOTONIC, &t);
  return static_cast<std::int64_t>(t.tv_sec) * 1'000'000'000 + t.tv_nsec;
}

inline double host_now_s() { return static_cast<double>(host_now_ns()) * 1e-9; }

}  // namespace airlatch
