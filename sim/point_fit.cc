#include "sim/point_fit.h"

#include <stdexcept>

#include <Eigen/LU>
#include <Eigen/SVD>

namespace aircut::sim {

PointFit FitPoints(const Eigen::MatrixXd& x, const Eigen::MatrixXd& y, FitScale scale) {
  if (x.rows() != y.rows() || x.cols() != y.cols() || x.size() == 0) {
    throw std::invalid_argument("FitPoints: x and y must have the same size, not zero");
  }
  if (!x.allFinite() || !y.allFinite()) {
    throw std::invalid_argument("FitPoints: x and y must be finite");
  }
  const Eigen::VectorXd middle_x = x.rowwise().mean(), middle_y = y.rowwise().mean();
  const Eigen::MatrixXd from = x.colwise() - middle_x, to = y.colwise() - middle_y;
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(to * from.transpose(),
                                              Eigen::ComputeFullU | Eigen::ComputeFullV);
  // The weakest direction pays for the turn where a mirror image would fit better.
  Eigen::VectorXd sign = Eigen::VectorXd::Ones(x.rows());
  if (svd.matrixU().determinant() * svd.matrixV().determinant() < 0.0) sign[x.rows() - 1] = -1.0;
  PointFit fit;
  fit.R = svd.matrixU() * sign.asDiagonal() * svd.matrixV().transpose();
  const double spread = from.squaredNorm();
  if (scale == FitScale::kFree && spread > 0.0) {
    fit.scale = svd.singularValues().dot(sign) / spread;
  }
  fit.t = middle_y - fit.scale * fit.R * middle_x;
  fit.mean_square = (to - fit.scale * fit.R * from).squaredNorm() / static_cast<double>(x.cols());
  return fit;
}

}  // namespace aircut::sim
