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
constexpr float kMost = std::numeric_limits<float>::max();
constexpr float kInfinity = std::numeric_limits<float>::infinity();

}  // namespace

AIRLATCH_WIDE Summary summarise(std::span<const float> values) {
  Floats least = Floats{} + kInfinity, most = Floats{} - kInfinity;
  std::array<float, kLanes> last;
  const std::size_t n = values.size();
  std::size_t not_finite = 0;
  std::size_t i = 0;
  Floats off = {};
  for (; i < n; i += kLanes) {
    Floats v;
    if (i + kLanes <= n) {
      std::memcpy(&v, values.data() + i, sizeof v);
    } else {  // the rest is filled up with what is there already
      last.fill(values[i]);
      std::memcpy(last.data(), values.data() + i, (n - i) * sizeof(float));
      std::memcpy(&v, last.data(), sizeof v);
    }
    off += v - v;  // NaN where v is not finite
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
  std::size_t i = 0;
  for (; i + kLanes <= n; i += kLanes) {
    Floats a, b;
    std::memcpy(&a, values.data() + i, sizeof a);
    std::memcpy(&b, values.data() + i + 1, sizeof b);
    const Floats d = b - a, square = d * d, size = d < 0 ? -d : d;
    sum += square < most ? square : most;
    const Floats moved = size > 0 ? size : Floats{} + kInfinity;
    least = moved < least ? moved : least;
  }
  for (; i < n; ++i) {
    const float d = values[i + 1] - values[i], square = d * d;
    sum[i % kLanes] += square < limit ? square : limit;
    const float size = d < 0 ? -d : d;
    if (size > 0 && size < least[i % kLanes]) least[i % kLanes] = size;
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

AIRLATCH_WIDE double sum(std::span<const float> values) {
  Doubles sum = {};
  const std::size_t n = values.size();
  std::size_t i = 0;
  for (; i + kLanes <= n; i += kLanes) {
    Floats v;
    std::memcpy(&v, values.data() + i, sizeof v);
    sum += __builtin_convertvector(v, Doubles);
  }
  for (; i < n; ++i) sum[i % kLanes] += static_cast<double>(values[i]);
  return ((sum[0] + sum[1]) + (sum[2] + sum[3])) + ((sum[4] + sum[5]) + (sum[6] + sum[7]));
}

AIRLATCH_WIDE double squares_about(std::span<const float> values, double about) {
  Doubles sum = {};
  const std::size_t n = values.size();
  std::size_t i = 0;
  for (; i + kLanes <= n; i += kLanes) {
    Floats v;
    std::memcpy(&v, values.data() + i, sizeof v);
    const Doubles d = __builtin_convertvector(v, Doubles) - about;
    sum += d * d;
  }
  for (; i < n; ++i) {
    const double d = static_cast<double>(values[i]) - about;
    sum[i % kLanes] += d * d;
  }
  return ((sum[0] + sum[1]) + (sum[2] + sum[3])) + ((sum[4] + sum[5]) + (sum[6] + sum[7]));
}

}  // namespace airlatch
