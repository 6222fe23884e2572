#include "decoders/stream/summary.hpp"

#include <array>
#include <cmath>
#include <cstring>
#include <limits>

// One binary for old and new processors: the loader takes the wide one where there is one. No fused
// multiply-add in either, so that both give the same bytes.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__SANITIZE_THREAD__) && \
    !defined(__SANITIZE_ADDRESS__)
#define AIRLATCH_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define AIRLATCH_WIDE
#endif

namespace airlatch {
namespace {

constexpr std::size_t kLanes = 8;
using Floats = float __attribute__((vector_size(kLanes * sizeof(float))));
using Doubles = double __attribute__((vector_size(kLanes * sizeof(double))));
// The n < kLanes samples at `from`, the other lanes filled up.
using Lanes = std::array<float, kLanes>;
Lanes rest(const float* from, std::size_t n, float filling) {
  Lanes lanes;
  lanes.fill(filling);
  std::memcpy(lanes.data(), from, n * sizeof(float));
  return lanes;
}

// Sum of the differences from `about`, or of their squares; inlined, so that it is as wide as its
// caller.
template <int kPower>
[[gnu::always_inline]] inline double total(std::span<const float> values, double about) {
  Doubles sum = {};
  const std::size_t n = values.size();
  for (std::size_t i = 0; i < n; i += kLanes) {
    const std::size_t here = n - i < kLanes ? n - i : kLanes;
    const float* from = values.data() + i;
    Lanes last;
    if (here < kLanes) {
      last = rest(from, here, 0);
      from = last.data();
    }
    Floats v;
    std::memcpy(&v, from, sizeof v);
    Doubles d = __builtin_convertvector(v, Doubles) - about;
    for (std::size_t k = here; k < kLanes; ++k) d[k] = 0;
    sum += kPower == 2 ? d * d : d;
  }
  return ((sum[0] + sum[1]) + (sum[2] + sum[3])) + ((sum[4] + sum[5]) + (sum[6] + sum[7]));
}

constexpr float kMost = std::numeric_limits<float>::max();
constexpr float kInfinity = std::numeric_limits<float>::infinity();

}  // namespace

AIRLATCH_WIDE Summary summarise(std::span<const float> values) {
  Floats least = Floats{} + kInfinity, most = Floats{} - kInfinity;
  const std::size_t n = values.size();
  std::size_t not_finite = 0;
  std::size_t i = 0;
  Floats off = {};
  for (; i < n; i += kLanes) {
    Lanes last;
    const float* from = values.data() + i;
    if (i + kLanes > n) {
      last = rest(from, n - i, *from);
      from = last.data();
    }
    Floats v;
    std::memcpy(&v, from, sizeof v);
    off += v * 0.0F;  // NaN where v is not finite
    least = v < least ? v : least;
    most = v > most ? v : most;
  }
  for (std::size_t k = 0; k < kLanes; ++k) not_finite += off[k] == 0 ? 0U : 1U;
  Summary out{kInfinity, -kInfinity, not_finite == 0};
  for (std::size_t k = 0; k < kLanes; ++k) {
    out.least = least[k] < out.least ? least[k] : out.least;
    out.most = most[k] > out.most ? most[k] : out.most;
  }
  return out;
}

AIRLATCH_WIDE Differences differences(std::span<const float> values, float limit) {
  Differences out;
  if (values.size() < 2) return out;
  const std::size_t n = values.size() - 1;
  Floats sum = {}, least = Floats{} + kInfinity;
  const Floats most = Floats{} + limit;
  Lanes last_a, last_b;
  for (std::size_t i = 0; i < n; i += kLanes) {
    const float *from = values.data() + i, *to = from + 1;
    if (i + kLanes > n) {  // filled up with the last sample: those differences are 0
      last_a = rest(from, n - i, values.back());
      last_b = rest(to, n - i, values.back());
      from = last_a.data();
      to = last_b.data();
    }
    Floats a, b;
    std::memcpy(&a, from, sizeof a);
    std::memcpy(&b, to, sizeof b);
    const Floats d = b - a, square = d * d, size = d < 0 ? -d : d;
    sum += square < most ? square : most;
    const Floats moved = size > 0 ? size : Floats{} + kInfinity;
    least = moved < least ? moved : least;
  }
  float smallest = kInfinity;
  for (std::size_t k = 0; k < kLanes; ++k) {
    out.squares += static_cast<double>(sum[k]);
    smallest = least[k] < smallest ? least[k] : smallest;
  }
  if (smallest < kInfinity) out.least_change = smallest;
  if (out.squares <= static_cast<double>(kMost)) return out;
  // Beyond what a float's square holds.
  out.squares = 0;
  for (std::size_t k = 0; k < n; ++k) {
    const double d = static_cast<double>(values[k + 1]) - static_cast<double>(values[k]);
    out.squares += std::fmin(d * d, static_cast<double>(limit));
  }
  return out;
}

AIRLATCH_WIDE double sum(std::span<const float> values) { return total<1>(values, 0); }

AIRLATCH_WIDE double squares_about(std::span<const float> values, double about) {
  return total<2>(values, about);
}

}  // namespace airlatch
