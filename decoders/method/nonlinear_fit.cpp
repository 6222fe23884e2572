#include "decoders/method/nonlinear_fit.hpp"

namespace airlatch {

template <int K>
LinearStep<K>::LinearStep(Eigen::Index points, Eigen::Index parameters)
    : k_(parameters),
      all_(points, parameters + 1),
      whole_(points, parameters + 1),
      damped_(2 * parameters, parameters),
      small_(2 * parameters, parameters),
      right_(Eigen::Matrix<double, kTwice, 1>::Zero(2 * parameters)),
      length_(parameters) {}

template <int K>
void LinearStep<K>::take(const Jacobian& J, const Eigen::VectorXd& r) {
  length_ = J.colwise().norm().transpose().cwiseMax(1e-300);
  // All points' equations are brought to k by k once; every damping tried needs only those.
  all_.leftCols(k_) = J * length_.cwiseInverse().asDiagonal();
  all_.col(k_) = -r;
  whole_.compute(all_);
  right_.head(k_) = whole_.matrixQR().col(k_).head(k_);
}

template <int K>
double LinearStep<K>::offset2() const {
  return right_.head(k_).squaredNorm();
}

template <int K>
typename LinearStep<K>::Parameters LinearStep<K>::damped(double damping) {
  damped_.topRows(k_) =
      whole_.matrixQR().topLeftCorner(k_, k_).template triangularView<Eigen::Upper>();
  damped_.bottomRows(k_) = Eigen::Matrix<double, K, K>::Identity(k_, k_) * std::sqrt(damping);
  small_.compute(damped_);
  const Parameters scaled = small_.solve(right_);
  return scaled.cwiseQuotient(length_);
}

template <int K>
Eigen::Matrix<double, K, K> inverse_of(const typename NonlinearFit<K>::Jacobian& J) {
  using Square = Eigen::Matrix<double, K, K>;
  const Eigen::Index k = J.cols();
  const Eigen::Matrix<double, K, 1> length = J.colwise().norm().transpose().cwiseMax(1e-300);
  const typename NonlinearFit<K>::Jacobian scaled = J * length.cwiseInverse().asDiagonal();
  const Square R =
      scaled.householderQr().matrixQR().topRows(k).template triangularView<Eigen::Upper>();
  const Square inverse_R = R.template triangularView<Eigen::Upper>().solve(Square::Identity(k, k));
  return length.cwiseInverse().asDiagonal() * (inverse_R * inverse_R.transpose()) *
         length.cwiseInverse().asDiagonal();
}

template class LinearStep<3>;
template class LinearStep<5>;
template class LinearStep<Eigen::Dynamic>;
template Eigen::Matrix<double, 3, 3> inverse_of<3>(const NonlinearFit<3>::Jacobian&);
template Eigen::Matrix<double, 5, 5> inverse_of<5>(const NonlinearFit<5>::Jacobian&);
template Eigen::MatrixXd inverse_of<Eigen::Dynamic>(const Eigen::MatrixXd&);

}  // namespace airlatch
