#include "decoders/method/start_transient.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/nonlinear_fit.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kFewest = 8;
// Electrical time constants of small PM motors: 0.5 ms, within a factor of two (common practice, no
// source). Counts only where no sample lies in the rise.
constexpr double kElectrical_s = 0.0005, kElectricalSpread = 0.6;
constexpr double kWorstFit = 6;  // residual variance over the expected one

// Parameters: start, c, a, ln p, ln (q - p).
double current(const Eigen::VectorXd& b, double t) {
  const double x = t - b[0];
  if (x <= 0) return 0;
  const double p = std::exp(std::clamp(b[3], -5.0, 12.0));
  const double q = p + std::exp(std::clamp(b[4], -5.0, 12.0));
  const double slow = std::exp(-p * x), fast = std::exp(-q * x);
  return b[1] * (1 - slow) + b[2] * (slow - fast);
}

struct Course {
  double peak = 0, peak_s = 0, ten_s = 0;
};
Course course(const Eigen::VectorXd& b, double until_s) {
  Course out;
  const double step_s = (until_s - b[0]) / 400;
  for (double t = b[0] + step_s; t < until_s; t += step_s)
    if (current(b, t) > out.peak) {
      out.peak = current(b, t);
      out.peak_s = t;
    }
  double low = b[0], high = out.peak_s;
  for (int k = 0; k < 50; ++k) {
    const double middle = (low + high) / 2;
    (current(b, middle) < 0.1 * out.peak ? low : high) = middle;
  }
  out.ten_s = (low + high) / 2;
  return out;
}

}  // namespace

std::optional<StartTransient> fit_start_transient(const std::vector<double>& times_s,
                                                  const std::vector<double>& currents_a,
                                                  double noise_a, double earliest_s,
                                                  double latest_s, double ripple) {
  if (times_s.size() < kFewest) return std::nullopt;
  const auto n = static_cast<Eigen::Index>(times_s.size());
  const double until_s = times_s.back();
  const double highest = *std::max_element(currents_a.begin(), currents_a.end());
  const auto at = [](Eigen::Index i) { return static_cast<std::size_t>(i); };
  const Residuals residuals = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r,
                                  Eigen::MatrixXd& J) {
    for (Eigen::Index i = 0; i < n; ++i) {
      const double sigma = std::hypot(noise_a, ripple * currents_a[at(i)]);
      const double t = times_s[at(i)];
      r[i] = (current(b, t) - currents_a[at(i)]) / sigma;
      for (Eigen::Index k = 0; k < 5; ++k) {
        const double h = k == 0 ? 1e-7 : 1e-6 * std::max(1.0, std::abs(b[k]));
        Eigen::VectorXd up = b, down = b;
        up[k] += h;
        down[k] -= h;
        J(i, k) = (current(up, t) - current(down, t)) / (2 * h * sigma);
      }
    }
    r[n] = (b[4] + std::log(kElectrical_s)) / kElectricalSpread;
    J.row(n).setZero();
    J(n, 4) = 1 / kElectricalSpread;
  };
  std::optional<NonlinearFit> best;
  for (const double part : {0.2, 0.5, 0.8})
    for (const double fast_per_s : {1000.0, 4000.0}) {
      Eigen::VectorXd b(5);
      b << earliest_s + part * (latest_s - earliest_s), currents_a.back(), 1.1 * highest,
          std::log(60.0), std::log(fast_per_s);
      NonlinearFit fit = fit_nonlinear(residuals, n + 1, b, 60, 1e-9);
      const double start_s = fit.parameters[0];
      if (!fit.parameters.allFinite() || start_s < earliest_s || start_s > latest_s) continue;
      if (!best || fit.rss < best->rss) best = std::move(fit);
    }
  if (!best || !best->inverse.allFinite()) return std::nullopt;
  const double spread = best->rss / static_cast<double>(n - 5);
  if (spread > kWorstFit) return std::nullopt;
  const Eigen::VectorXd& b = best->parameters;
  const Course here = course(b, until_s);
  Eigen::VectorXd d_ten(5), d_peak(5);
  for (Eigen::Index k = 0; k < 5; ++k) {
    const double h = k == 0 ? 1e-6 : 1e-4 * std::max(1.0, std::abs(b[k]));
    Eigen::VectorXd up = b, down = b;
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
  return out;
}

}  // namespace airlatch
