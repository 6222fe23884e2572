#include "decoders/method/nonlinear_fit.hpp"

#include <cmath>

namespace airlatch {

NonlinearFit fit_nonlinear(const Residuals& residuals, Eigen::Index points,
                           const Eigen::VectorXd& start, int most_iterations, double tolerance) {
  const Eigen::Index k = start.size();
  NonlinearFit fit;
  fit.parameters = start;
  Eigen::VectorXd r(points), r_try(points);
  Eigen::MatrixXd J(points, k), J_try(points, k);
  residuals(fit.parameters, r, J);
  fit.rss = r.squaredNorm();
  double damping = 1e-3;
  Eigen::MatrixXd all(points, k + 1), damped(2 * k, k);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(2 * k);
  Eigen::HouseholderQR<Eigen::MatrixXd> whole(points, k + 1), small(2 * k, k);
  for (fit.iterations = 0; fit.iterations < most_iterations && !fit.converged; ++fit.iterations) {
    const Eigen::VectorXd length = J.colwise().norm().transpose().cwiseMax(1e-300);
    // All points' equations are brought to k by k once; every damping tried needs only those.
    all.leftCols(k) = J * length.cwiseInverse().asDiagonal();
    all.col(k) = -r;
    whole.compute(all);
    right.head(k) = whole.matrixQR().col(k).head(k);
    bool better = false;
    while (damping < 1e12) {
      damped.topRows(k) = whole.matrixQR().topLeftCorner(k, k).triangularView<Eigen::Upper>();
      damped.bottomRows(k) = Eigen::MatrixXd::Identity(k, k) * std::sqrt(damping);
      small.compute(damped);
      const Eigen::VectorXd scaled_step = small.solve(right);
      const Eigen::VectorXd step = scaled_step.cwiseQuotient(length);
      const Eigen::VectorXd trial = fit.parameters + step;
      residuals(trial, r_try, J_try);
      const double rss = r_try.squaredNorm();
      const double moved =
          step.cwiseAbs().cwiseQuotient(fit.parameters.cwiseAbs().cwiseMax(1e-30)).maxCoeff();
      if (std::isfinite(rss) && rss <= fit.rss) {
        fit.converged = moved < tolerance || (fit.rss - rss) <= 1e-15 * fit.rss * tolerance;
        fit.parameters = trial;
        fit.rss = rss;
        r.swap(r_try);
        J.swap(J_try);
        damping = std::max(damping * 0.2, 1e-15);
        better = true;
        break;
      }
      if (moved < tolerance) {  // cannot be improved any more
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
  const Eigen::VectorXd length = J.colwise().norm().transpose().cwiseMax(1e-300);
  const Eigen::MatrixXd scaled = J * length.cwiseInverse().asDiagonal();
  const Eigen::MatrixXd R =
      scaled.householderQr().matrixQR().topRows(k).triangularView<Eigen::Upper>();
  const Eigen::MatrixXd Rinv =
      R.triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(k, k));
  fit.inverse = length.cwiseInverse().asDiagonal() * (Rinv * Rinv.transpose()) *
                length.cwiseInverse().asDiagonal();
  return fit;
}

}  // namespace airlatch
