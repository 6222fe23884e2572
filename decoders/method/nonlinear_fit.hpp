// SPDX-License-Identifier: GPL-3.0-or-later
// nonlinear_fit.hpp: least squares of a model that is not linear in its parameters.
//
// In    residuals and their derivatives, as one function of the parameters; a start.
// Out   the parameters with their covariance for unit residual variance.
// How   Levenberg-Marquardt (Marquardt, J. SIAM 11 (1963) 431) on columns scaled to unit length,
//       each step by QR of the damped system, so that badly scaled problems keep their digits. It
//       ends when the parameters move no more, or when what is left to move is a small part of
//       their own standard uncertainties (relative offset; Bates and Watts, Technometrics 23 (1981)
//       179).
// Cost  one QR of (points x parameters) an iteration.
#pragma once
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <span>

#include "decoders/method/linear_step.hpp"

namespace airlatch {

// K parameters, known when compiled or Eigen::Dynamic.
template <int K>
struct NonlinearFit {
  using Parameters = Eigen::Matrix<double, K, 1>;
  using Jacobian = Eigen::Matrix<double, Eigen::Dynamic, K>;  // a row a point
  Parameters parameters;
  Eigen::Matrix<double, K, K> inverse;  // (J' J)^-1; times the residual variance: the covariance
  double rss = 0;                       // sum of squared residuals
  int iterations = 0;
  bool converged = false;
};

struct FitSettings {
  double damping = 1e-3;  // at first: little where the start is near
  int most_iterations = 200;
  double moved = 1e-14;  // the largest relative step of a parameter
  double offset = 0;     // the step to the minimum over the standard uncertainties
};

// `residuals(parameters, r, J)` fills r (residuals) and J (dr/dparameter); both have the right
// sizes already.
template <int K, typename Residuals>
NonlinearFit<K> fit_nonlinear(const Residuals& residuals, Eigen::Index points,
                              const Eigen::Matrix<double, K, 1>& start,
                              const FitSettings& settings = {}) {
  const Eigen::Index k = start.size();
  NonlinearFit<K> fit;
  fit.parameters = start;
  Eigen::VectorXd r(points), r_try(points);
  typename NonlinearFit<K>::Jacobian J(points, k), J_try(points, k);
  residuals(fit.parameters, r, J);
  fit.rss = r.squaredNorm();
  double damping = settings.damping;
  const auto all = [](auto& matrix) {
    return std::span(matrix.data(), static_cast<std::size_t>(matrix.size()));
  };
  LinearStep linear(static_cast<std::size_t>(points), static_cast<std::size_t>(k));
  for (fit.iterations = 0; fit.iterations < settings.most_iterations && !fit.converged;
       ++fit.iterations) {
    linear.take(all(J), all(r));
    const double towards = linear.offset2();
    const double freedom = std::max(1.0, static_cast<double>(points - k));
    if (towards <=
        settings.offset * settings.offset * std::max(1.0, (fit.rss - towards) / freedom)) {
      fit.converged = true;
      break;
    }
    bool better = false;
    while (damping < 1e12) {
      Eigen::Matrix<double, K, 1> step(k);
      linear.damped(damping, all(step));
      const Eigen::Matrix<double, K, 1> trial = fit.parameters + step;
      residuals(trial, r_try, J_try);
      const double rss = r_try.squaredNorm();
      const double moved =
          step.cwiseAbs().cwiseQuotient(fit.parameters.cwiseAbs().cwiseMax(1e-30)).maxCoeff();
      if (std::isfinite(rss) && rss <= fit.rss) {
        fit.converged =
            moved < settings.moved || (fit.rss - rss) <= 1e-15 * fit.rss * settings.moved;
        fit.parameters = trial;
        fit.rss = rss;
        r.swap(r_try);
        J.swap(J_try);
        damping = std::max(damping * 0.2, 1e-15);
        better = true;
        break;
      }
      if (moved < settings.moved) {  // cannot be improved any more
        fit.converged = true;
        break;
      }
      damping *= 5;
    }
    if (!better) {
      fit.converged = fit.converged || damping >= 1e12;
      break;
    }
  }
  fit.inverse.resize(k, k);
  inverse_of(all(J), static_cast<std::size_t>(points), all(fit.inverse));
  return fit;
}

}  // namespace airlatch
