// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/start_transient.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/elementary.hpp"
#include "decoders/method/nonlinear_fit.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kFewest = 8;
// Electrical time constants of small PM motors: 0.5 ms, within a factor of two (common practice, no
// source). Counts only where no sample lies in the rise.
constexpr double kElectrical_s = 0.0005, kElectricalSpread = 0.6;
constexpr double kWorstFit = 6;  // residual variance over the expected one
constexpr double kThere = 1e-5;  // of a standard uncertainty: a fit ends

// Parameters: start, c, a, ln p, ln (q - p).
constexpr int kParameters = 5;
using Fit = NonlinearFit<kParameters>;
constexpr double kLeastLog = -5, kMostLog = 12;

// The course with its parameters; what does not depend on the time is computed once.
class Current {
 public:
  explicit Current(const Fit::Parameters& b, double mean_s = 0)
      : mean_s_(mean_s),
        start_s_(b[0]),
        end_(b[1]),
        swing_(b[2]),
        p_(elementary::exp(std::clamp(b[3], kLeastLog, kMostLog))),
        q_(p_ + elementary::exp(std::clamp(b[4], kLeastLog, kMostLog))),
        p_moves_(b[3] > kLeastLog && b[3] < kMostLog),
        q_moves_(b[4] > kLeastLog && b[4] < kMostLog) {}

  double at(double t_s) const {
    const double x = t_s - start_s_;
    if (x <= 0) return 0;
    const double slow = elementary::exp(-p_ * x), fast = elementary::exp(-q_ * x);
    return end_ * (1 - slow) + swing_ * (slow - fast);
  }

  // A sample, and its derivatives with respect to the parameters.
  template <typename Row>
  double sample(double t_s, Row&& d) const {
    if (!(mean_s_ > 0)) return at(t_s, d);
    Fit::Parameters low, high;
    const double charge = integral(t_s + mean_s_ / 2, high) - integral(t_s - mean_s_ / 2, low);
    d = (high - low) / mean_s_;
    return charge / mean_s_;
  }

  // The same at an instant.
  template <typename Row>
  double at(double t_s, Row&& d) const {
    const double x = t_s - start_s_;
    if (x <= 0) {
      d.setZero();
      return 0;
    }
    const double slow = elementary::exp(-p_ * x), fast = elementary::exp(-q_ * x);
    const double by_p = x * slow * (end_ - swing_), by_q = x * swing_ * fast;
    d[0] = -(p_ * slow * (end_ - swing_) + swing_ * q_ * fast);
    d[1] = 1 - slow;
    d[2] = slow - fast;
    d[3] = p_moves_ ? p_ * (by_p + by_q) : 0;
    d[4] = q_moves_ ? (q_ - p_) * by_q : 0;
    return end_ * (1 - slow) + swing_ * (slow - fast);
  }

  // Where di/dt = 0, or the end of what was seen.
  double peak_s(double until_s) const {
    const double ratio = swing_ * q_ / ((swing_ - end_) * p_);
    if (!(swing_ > end_) || !(ratio > 1)) return until_s;
    return std::min(start_s_ + elementary::log(ratio) / (q_ - p_), until_s);
  }

  double start_s() const { return start_s_; }

 private:
  // Charge since the start, and its derivatives.
  double integral(double t_s, Fit::Parameters& d) const {
    const double x = t_s - start_s_;
    d.setZero();
    if (x <= 0) return 0;
    const double slow = elementary::exp(-p_ * x), fast = elementary::exp(-q_ * x);
    const double slow_s = (1 - slow) / p_, fast_s = (1 - fast) / q_;
    const double by_p = (swing_ - end_) * (x * slow - slow_s) / p_;
    const double by_q = -swing_ * (x * fast - fast_s) / q_;
    d[0] = -(end_ * (1 - slow) + swing_ * (slow - fast));
    d[1] = x - slow_s;
    d[2] = slow_s - fast_s;
    d[3] = p_moves_ ? p_ * (by_p + by_q) : 0;
    d[4] = q_moves_ ? (q_ - p_) * by_q : 0;
    return end_ * d[1] + swing_ * d[2];
  }

  double mean_s_, start_s_, end_, swing_, p_, q_;
  bool p_moves_, q_moves_;
};

struct Course {
  double peak = 0, peak_s = 0, ten_s = 0;
};
Course course(const Fit::Parameters& b, double until_s) {
  const Current current(b);
  Course out;
  out.peak_s = current.peak_s(until_s);
  out.peak = current.at(out.peak_s);
  double low = current.start_s(), high = out.peak_s;
  for (int k = 0; k < 50; ++k) {
    const double middle = (low + high) / 2;
    (current.at(middle) < 0.1 * out.peak ? low : high) = middle;
  }
  out.ten_s = (low + high) / 2;
  return out;
}

}  // namespace

std::optional<StartTransient> fit_start_transient(const std::vector<double>& times_s,
                                                  const std::vector<double>& currents_a,
                                                  double noise_a, double earliest_s,
                                                  double latest_s, double mean_s, double ripple) {
  if (times_s.size() < kFewest) return std::nullopt;
  const auto n = static_cast<Eigen::Index>(times_s.size());
  const double until_s = times_s.back();
  const double highest = *std::max_element(currents_a.begin(), currents_a.end());
  const auto at = [](Eigen::Index i) { return static_cast<std::size_t>(i); };
  std::vector<double> weights;
  weights.reserve(currents_a.size());
  for (const double current_a : currents_a)
    weights.push_back(1 / combine(noise_a, ripple * current_a));
  const auto residuals = [&](const Fit::Parameters& b, Eigen::VectorXd& r, Fit::Jacobian& J) {
    const Current current(b, mean_s);
    Fit::Parameters d;
    for (Eigen::Index i = 0; i < n; ++i) {
      r[i] = weights[at(i)] * (current.sample(times_s[at(i)], d) - currents_a[at(i)]);
      J.row(i) = weights[at(i)] * d.transpose();
    }
    r[n] = (b[4] + elementary::log(kElectrical_s)) / kElectricalSpread;
    J.row(n).setZero();
    J(n, 4) = 1 / kElectricalSpread;
  };
  std::optional<Fit> best;
  for (const double part : {0.2, 0.5, 0.8})
    for (const double fast_per_s : {1000.0, 4000.0}) {
      Fit::Parameters b;
      b << earliest_s + part * (latest_s - earliest_s), currents_a.back(), 1.1 * highest,
          elementary::log(60.0), elementary::log(fast_per_s);
      Fit fit = fit_nonlinear(residuals, n + 1, b,
                              {.most_iterations = 60, .moved = 1e-9, .offset = kThere});
      const double start_s = fit.parameters[0];
      if (!fit.parameters.allFinite() || start_s < earliest_s || start_s > latest_s) continue;
      if (!best || fit.rss < best->rss) best = std::move(fit);
    }
  if (!best || !best->inverse.allFinite()) return std::nullopt;
  const double spread = best->rss / static_cast<double>(n - kParameters);
  if (spread > kWorstFit) return std::nullopt;
  const Fit::Parameters& b = best->parameters;
  const Course here = course(b, until_s);
  Fit::Parameters d_ten, d_peak;
  for (Eigen::Index k = 0; k < kParameters; ++k) {
    const double h = k == 0 ? 1e-6 : 1e-4 * std::max(1.0, std::abs(b[k]));
    Fit::Parameters up = b, down = b;
    up[k] += h;
    down[k] -= h;
    const Course more = course(up, until_s), less = course(down, until_s);
    d_ten[k] = (more.ten_s - less.ten_s) / (2 * h);
    d_peak[k] = (more.peak - less.peak) / (2 * h);
  }
  const double scale = std::max(1.0, spread);
  StartTransient out;
  out.start_s = {here.ten_s, std::sqrt(std::max(0.0, d_ten.dot(best->inverse * d_ten)) * scale)};
  // The peak holds the ripple of its own instant, which nobody knows.
  out.peak = {here.peak,
              combine(std::sqrt(std::max(0.0, d_peak.dot(best->inverse * d_peak)) * scale),
                      ripple * here.peak / std::sqrt(2.0))};
  out.peak_s = here.peak_s;
  out.misfit = best->rss;
  // Samples that any course of a family fits do not determine it: what lies between them is then
  // known from them alone, which needs no fit.
  const bool determined = out.start_s.u < latest_s - earliest_s && out.peak.u < highest / 2;
  if (!determined) return std::nullopt;
  return out;
}

}  // namespace airlatch
