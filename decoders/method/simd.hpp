// SPDX-License-Identifier: GPL-3.0-or-later
// simd.hpp: loops over several numbers at a time, one binary for old and new processors.
//
// How   a function marked AIRLATCH_SIMD is compiled twice, and the loader takes the AVX2 version
//       where the processor has it. No fused multiply-add in either, so that both give the same
//       bytes; helpers of such a function are inlined, so that they are compiled for the same
//       processor. Clang refuses such a function's call of a helper that is not compiled for the same
//       processor, inlined or not: there it is compiled once.
#pragma once
#include <cstring>

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_THREAD__) && !defined(__SANITIZE_ADDRESS__)
#define AIRLATCH_SIMD __attribute__((target_clones("avx2", "default")))
#else
#define AIRLATCH_SIMD
#endif

// SIMD values only pass between functions that are inlined: there is no ABI to keep to.
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
