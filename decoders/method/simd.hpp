// simd.hpp: loops over several numbers at a time, one binary for old and new processors.
//
// How   a function marked AIRLATCH_SIMD is compiled twice and the loader takes the wide one where
//       there is one. No fused multiply-add in either, so that both give the same bytes; helpers of
//       such a function are inlined, so that they are as wide as it is. Clang refuses a wide
//       function's call of a helper that is not wide itself, inlined or not: compiled once there.
#pragma once
#include <cstring>

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_THREAD__) && !defined(__SANITIZE_ADDRESS__)
#define AIRLATCH_SIMD __attribute__((target_clones("avx2", "default")))
#else
#define AIRLATCH_SIMD
#endif

// Wide values only pass between functions that are inlined: no ABI to keep to.
#pragma GCC diagnostic ignored "-Wpsabi"

namespace airlatch {

// As many as the type holds, from any address.
template <typename Vector, typename Number>
[[gnu::always_inline]] inline Vector load_simd(const Number* from) {
  Vector v;
  std::memcpy(&v, from, sizeof v);
  return v;
}

}  // namespace airlatch
