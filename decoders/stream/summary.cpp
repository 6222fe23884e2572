// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/summary.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "decoders/method/simd.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLanes = 8;
using Floats = float __attribute__((vector_size(kLanes * sizeof(float))));
using Doubles = double __attribute__((vector_size(4 * sizeof(double))));
using Four = float __attribute__((vector_size(4 * sizeof(float))));
constexpr float kMost = std::numeric_limits<float>::max();
constexpr float kInfinity = std::numeric_limits<float>::infinity();
constexpr Floats kNumber = {0, 1, 2, 3, 4, 5, 6, 7};

[[gnu::always_inline]] inline Floats load(const float* from) { return load_simd<Floats>(from); }

[[gnu::always_inline]] inline Doubles load4(const float* from) {
  return __builtin_convertvector(load_simd<Four>(from), Doubles);
}

[[gnu::always_inline]] inline Floats lesser(const Floats& a, const Floats& b) {
  return a < b ? a : b;
}
[[gnu::always_inline]] inline Floats greater(const Floats& a, const Floats& b) {
  return a > b ? a : b;
}
[[gnu::always_inline]] inline Floats both(const Floats& a, const Floats& b) { return a + b; }

// All lanes brought to one, by halves.
template <typename Two>
[[gnu::always_inline]] inline float folded(Floats v, Two&& two) {
  v = two(v, __builtin_shufflevector(v, v, 4, 5, 6, 7, 0, 1, 2, 3));
  v = two(v, __builtin_shufflevector(v, v, 2, 3, 0, 1, 6, 7, 4, 5));
  v = two(v, __builtin_shufflevector(v, v, 1, 0, 3, 2, 5, 4, 7, 6));
  return v[0];
}

[[gnu::always_inline]] inline double folded(Doubles v) { return (v[0] + v[1]) + (v[2] + v[3]); }

}  // namespace

AIRLATCH_SIMD Extremes extremes_of(std::span<const float> values) {
  Extremes out{kInfinity, -kInfinity, true};
  const std::size_t n = values.size();
  const float* const at = values.data();
  float off = 0;  // NaN once a value is not finite
  if (n < kLanes) {
    for (std::size_t k = 0; k < n; ++k) {
      const float v = at[k];
      off += v * 0.0F;
      out.least = v < out.least ? v : out.least;
      out.most = v > out.most ? v : out.most;
    }
  } else {
    struct Lanes {
      Floats least = Floats{} + kInfinity, most = Floats{} - kInfinity, bad = {};
      [[gnu::always_inline]] void look(const float* from) {
        const Floats v = load(from);
        bad += v * 0.0F;
        least = lesser(v, least);
        most = greater(v, most);
      }
    };
    Lanes one, two;  // alternately, so that no sum waits for the previous one
    std::size_t k = 0;
    for (; k + 2 * kLanes <= n; k += 2 * kLanes) {
      one.look(at + k);
      two.look(at + k + kLanes);
    }
    if (k + kLanes <= n) one.look(at + k);
    two.look(at + n - kLanes);  // the last ones; looking at some of them twice does no harm
    out.least = folded(lesser(one.least, two.least), lesser);
    out.most = folded(greater(one.most, two.most), greater);
    off = folded(one.bad + two.bad, both);
  }
  out.all_finite = off == 0;
  return out;
}

AIRLATCH_SIMD Changes changes_of(std::span<const float> values, float limit) {
  Changes out;
  const std::size_t n = values.size();
  const float* const at = values.data();
  float squares = 0, smallest = kInfinity;
  if (n <= kLanes) {
    for (std::size_t k = 1; k < n; ++k) {
      const float d = at[k] - at[k - 1], square = d * d, size = d < 0 ? -d : d;
      squares += square < limit ? square : limit;
      smallest = size > 0 && size < smallest ? size : smallest;
    }
  } else {
    const Floats none = Floats{} + kInfinity, highest = Floats{} + limit;
    struct Lanes {
      Floats sum, least;
    };
    Lanes one{{}, none}, two{{}, none};
    const auto look = [&](Lanes& to, std::size_t here, auto&& counted) {
      const Floats d = load(at + here) - load(at + here - 1);
      const Floats size = counted(d < 0 ? -d : d), square = size * size;
      to.sum += lesser(square, highest);
      to.least = lesser(size > 0 ? size : none, to.least);
    };
    const auto all = [](const Floats& size) { return size; };
    std::size_t k = 1;
    for (; k + 2 * kLanes <= n; k += 2 * kLanes) {
      look(one, k, all);
      look(two, k + kLanes, all);
    }
    if (k + kLanes <= n) {
      look(one, k, all);
      k += kLanes;
    }
    if (k < n) {  // the last ones overlap those before, whose differences are not counted again
      const Floats first = Floats{} + static_cast<float>(k + kLanes - n);
      look(two, n - kLanes, [&](const Floats& size) { return kNumber >= first ? size : Floats{}; });
    }
    smallest = folded(lesser(one.least, two.least), lesser);
    squares = folded(one.sum + two.sum, both);
  }
  out.squares = static_cast<double>(squares);
  if (smallest < kInfinity) out.least = smallest;
  if (out.squares <= static_cast<double>(kMost)) return out;
  // Beyond what a float's square holds.
  out.squares = 0;
  for (std::size_t k = 1; k < n; ++k) {
    const double d = static_cast<double>(values[k]) - static_cast<double>(values[k - 1]);
    out.squares += std::fmin(d * d, static_cast<double>(limit));
  }
  return out;
}

AIRLATCH_SIMD double sum(std::span<const float> values) {
  Doubles a = {}, b = {};
  std::size_t i = 0;
  for (; i + 8 <= values.size(); i += 8) {
    a += load4(values.data() + i);
    b += load4(values.data() + i + 4);
  }
  double rest = 0;
  for (; i < values.size(); ++i) rest += static_cast<double>(values[i]);
  return folded(a + b) + rest;
}

AIRLATCH_SIMD double squares_about(std::span<const float> values, double about) {
  Doubles a = {}, b = {};
  std::size_t i = 0;
  for (; i + 8 <= values.size(); i += 8) {
    const Doubles d = load4(values.data() + i) - about, e = load4(values.data() + i + 4) - about;
    a += d * d;
    b += e * e;
  }
  double rest = 0;
  for (; i < values.size(); ++i)
    rest += (static_cast<double>(values[i]) - about) * (static_cast<double>(values[i]) - about);
  return folded(a + b) + rest;
}

AIRLATCH_SIMD Moments moments(std::span<const float> a, std::span<const float> b) {
  Doubles sum_a = {}, sum_b = {}, ab = {}, aa = {}, bb = {};
  std::size_t i = 0;
  for (; i + 4 <= a.size(); i += 4) {
    const Doubles x = load4(a.data() + i), y = load4(b.data() + i);
    sum_a += x;
    sum_b += y;
    ab += x * y;
    aa += x * x;
    bb += y * y;
  }
  Moments out{folded(sum_a), folded(sum_b), folded(ab), folded(aa), folded(bb)};
  for (; i < a.size(); ++i) {
    const auto x = static_cast<double>(a[i]), y = static_cast<double>(b[i]);
    out.a += x;
    out.b += y;
    out.ab += x * y;
    out.aa += x * x;
    out.bb += y * y;
  }
  return out;
}

Spread about_means(const Moments& of, double n) {
  return {.mean_a = of.a / n,
          .mean_b = of.b / n,
          .ab = of.ab - of.a * of.b / n,
          .aa = std::max(0.0, of.aa - of.a * of.a / n),
          .bb = std::max(0.0, of.bb - of.b * of.b / n)};
}

}  // namespace airlatch
