// SPDX-License-Identifier: GPL-3.0-or-later
// sanitized.hpp: how many draws of a statistic are worth their time. The plain build gives the
// figures; under the sanitizers a few draws are enough to find wrong memory accesses.
#pragma once

namespace airlatch::test {
#if defined(__SANITIZE_ADDRESS__)
inline constexpr bool kSanitized = true;
#else
inline constexpr bool kSanitized = false;
#endif
}  // namespace airlatch::test
