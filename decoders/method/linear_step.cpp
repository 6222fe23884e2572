// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/linear_step.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

#include "decoders/method/simd.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLanes = 4;
using Doubles = double __attribute__((vector_size(kLanes * sizeof(double))));

[[gnu::always_inline]] inline Doubles load(const double* from) { return load_simd<Doubles>(from); }

[[gnu::always_inline]] inline double dot(const double* a, const double* b, std::size_t n) {
  Doubles sums = {};
  std::size_t i = 0;
  for (; i + kLanes <= n; i += kLanes) sums += load(a + i) * load(b + i);
  double rest = 0;
  for (; i < n; ++i) rest += a[i] * b[i];
  return (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest;
}

// y += factor x
[[gnu::always_inline]] inline void add(double factor, const double* x, double* y, std::size_t n) {
  std::size_t i = 0;
  for (; i + kLanes <= n; i += kLanes) {
    const Doubles sum = load(y + i) + factor * load(x + i);
    std::memcpy(y + i, &sum, sizeof sum);
  }
  for (; i < n; ++i) y[i] += factor * x[i];
}

// Turns the first k of the columns, n values each, into an upper triangle, and the others with
// them. What is below the triangle is of no use afterwards. REQUIRES: n >= k.
AIRLATCH_SIMD void make_triangle(double* columns, std::size_t n, std::size_t k,
                                 std::size_t all_columns) {
  for (std::size_t j = 0; j < k; ++j) {
    double* const x = columns + j * n + j;
    const std::size_t below = n - j - 1;
    const double first = x[0], squares = dot(x + 1, x + 1, below);
    if (squares == 0) continue;
    const double norm = std::sqrt(first * first + squares);
    const double v0 = first <= 0 ? first - norm : -squares / (first + norm);  // no cancellation
    const double share = 2 * v0 * v0 / (squares + v0 * v0);
    for (std::size_t c = j + 1; c < all_columns; ++c) {
      double* const y = columns + c * n + j;
      const double along = share * (y[0] + dot(x + 1, y + 1, below) / v0);
      y[0] -= along;
      add(-along / v0, x + 1, y + 1, below);
    }
    x[0] = norm;
  }
}

// x from R x = b, R upper triangular in columns of n values; in place.
void solve_triangle(const double* columns, std::size_t n, std::span<double> b) {
  for (std::size_t i = b.size(); i-- > 0;) {
    for (std::size_t c = i + 1; c < b.size(); ++c) b[i] -= columns[c * n + i] * b[c];
    b[i] /= columns[i * n + i];
  }
}

AIRLATCH_SIMD double length_of(const double* column, std::size_t n) {
  return std::max(std::sqrt(dot(column, column, n)), 1e-300);
}

}  // namespace

LinearStep::LinearStep(std::size_t points, std::size_t parameters)
    : n_(points),
      k_(parameters),
      all_(n_ * (k_ + 1)),
      small_(2 * k_ * (k_ + 1)),
      length_(parameters) {}

void LinearStep::take(std::span<const double> J, std::span<const double> r) {
  for (std::size_t c = 0; c < k_; ++c) {
    length_[c] = length_of(J.data() + c * n_, n_);
    const double* const from = J.data() + c * n_;
    double* const to = all_.data() + c * n_;
    const double length = length_[c];
    for (std::size_t i = 0; i < n_; ++i) to[i] = from[i] / length;
  }
  for (std::size_t i = 0; i < n_; ++i) all_[k_ * n_ + i] = -r[i];
  // All points' equations are brought to k by k once; every damping tried needs only those.
  make_triangle(all_.data(), n_, k_, k_ + 1);
}

double LinearStep::offset2() const { return dot(&all_[k_ * n_], &all_[k_ * n_], k_); }

void LinearStep::damped(double damping, std::span<double> step) {
  const std::size_t rows = 2 * k_;
  std::fill(small_.begin(), small_.end(), 0);
  for (std::size_t c = 0; c <= k_; ++c)
    for (std::size_t i = 0; i < k_ && i <= c; ++i) small_[c * rows + i] = all_[c * n_ + i];
  for (std::size_t c = 0; c < k_; ++c) small_[c * rows + k_ + c] = std::sqrt(damping);
  make_triangle(small_.data(), rows, k_, k_ + 1);
  std::copy_n(small_.begin() + static_cast<std::ptrdiff_t>(k_ * rows), k_, step.begin());
  solve_triangle(small_.data(), rows, step);
  for (std::size_t c = 0; c < k_; ++c) step[c] /= length_[c];
}

void inverse_of(std::span<const double> J, std::size_t points, std::span<double> inverse) {
  const std::size_t n = points, k = J.size() / n;
  std::vector<double> scaled(J.begin(), J.end()), lengths(k), rows(k * k);
  for (std::size_t c = 0; c < k; ++c) {
    lengths[c] = length_of(&scaled[c * n], n);
    for (std::size_t i = 0; i < n; ++i) scaled[c * n + i] /= lengths[c];
  }
  make_triangle(scaled.data(), n, k, k);
  // J = R diag(lengths) but for a rotation, so (J' J)^-1 = A A' with A = diag(1 / lengths) R^-1,
  // which is made a column at a time.
  std::vector<double> column(k);
  for (std::size_t c = 0; c < k; ++c) {
    std::fill(column.begin(), column.end(), 0);
    column[c] = 1;
    solve_triangle(scaled.data(), n, column);
    for (std::size_t i = 0; i < k; ++i) rows[i * k + c] = column[i] / lengths[i];
  }
  for (std::size_t i = 0; i < k; ++i)
    for (std::size_t c = 0; c < k; ++c) inverse[i * k + c] = dot(&rows[i * k], &rows[c * k], k);
}

}  // namespace airlatch
