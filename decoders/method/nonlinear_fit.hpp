// nonlinear_fit.hpp: least squares of a model that is not linear in its parameters.
//
// In    residuals and their derivatives, as one function of the parameters; a start.
// Out   the parameters with their covariance for unit residual variance.
// How   Levenberg-Marquardt (Marquardt, J. SIAM 11 (1963) 431) on columns scaled to unit length,
// each
//       step by QR of the damped system, so that badly scaled problems keep their digits.
// Cost  one QR of (points x parameters) an iteration.
#pragma once
#include <Eigen/Dense>
#include <functional>

namespace airlatch {

// Fills r (residuals) and J (dr/dparameter); both have the right sizes already.
using Residuals =
    std::function<void(const Eigen::VectorXd& parameters, Eigen::VectorXd& r, Eigen::MatrixXd& J)>;

struct NonlinearFit {
  Eigen::VectorXd parameters;
  Eigen::MatrixXd inverse;  // (J' J)^-1; times the residual variance: the covariance
  double rss = 0;           // sum of squared residuals
  int iterations = 0;
  bool converged = false;
};

NonlinearFit fit_nonlinear(const Residuals& residuals, Eigen::Index points,
                           const Eigen::VectorXd& start, int most_iterations = 200,
                           double tolerance = 1e-14);

}  // namespace airlatch
