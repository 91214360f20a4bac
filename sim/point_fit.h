#pragma once

#include <Eigen/Core>

namespace aircut::sim {

enum class FitScale {
  kOne,    ///< lengths stay as they are: a rigid move
  kFree    ///< lengths may grow by one common factor: a similarity
};

/// The move y = scale * R x + t that brings points x nearest to points y.
struct PointFit {
  Eigen::MatrixXd R;            ///< d x d, orthonormal, determinant +1
  Eigen::VectorXd t;
  double scale = 1.0;
  double mean_square = 0.0;     ///< mean squared distance that is left
};

/// Least squares over paired points, in any number of dimensions. A mirror image
/// is never returned: where one would fit better, the best rotation is.
/// Source: Umeyama, IEEE PAMI 13(4) 1991; with kOne that of Arun, Huang and
/// Blostein, IEEE PAMI 9(5) 1987 with Umeyama's sign.
/// @param x, y  d x n, column k of one belongs to column k of the other; n >= 1.
/// @throws std::invalid_argument unless both have the same size and are finite.
PointFit FitPoints(const Eigen::MatrixXd& x, const Eigen::MatrixXd& y, FitScale scale);

}  // namespace aircut::sim
