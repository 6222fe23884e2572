// sanitized.hpp: how much of a statistic is worth its time. The plain build tells the numbers;
// under the sanitizers a few draws show what there is of wrong memory.
#pragma once

namespace airlatch::test {
#if defined(__SANITIZE_ADDRESS__)
inline constexpr bool kSanitized = true;
#else
inline constexpr bool kSanitized = false;
#endif
}  // namespace airlatch::test
