#pragma once

#include <array>
#include <vector>

#include "kinematics/frame.h"
#include "sim/solid_kernel.h"

namespace aircut::sim {

/// Points whose hull is a solid, coordinate by coordinate.
class HullPoints {
 public:
  HullPoints() = default;
  explicit HullPoints(const std::vector<Eigen::Vector3d>& points);

  bool empty() const { return count_ == 0; }
  Eigen::Vector3d Point(int i) const;
  /// @returns the point farthest along `along`, of several the first in a fixed order.
  Eigen::Vector3d Support(const Eigen::Vector3d& along) const;
  /// Its height alone.
  double HeightAlong(const Eigen::Vector3d& along) const;

 private:
  std::vector<CornerLanes> corners_;   // the last point repeats up to a whole number of lanes
  int count_ = 0;
  const SolidKernels* kernels_ = &ChooseSolidKernels();
};

/// A posed convex solid: the hull of a few points, boxes, cylinders and hulls, grown
/// by a ball. Capsule = 2 points grown; a shape swept between two poses is held by
/// what both of them are made of.
class ConvexCore {
 public:
  static constexpr int kMostPoints = 8;
  static constexpr int kMostBoxes = 2;
  static constexpr int kMostCylinders = 2;
  static constexpr int kMostHulls = 2;

  void AddPoint(const Eigen::Vector3d& p);
  /// @param axis unit, from `from` to `to`.
  void AddCylinder(const Eigen::Vector3d& from, const Eigen::Vector3d& to, const Eigen::Vector3d& axis,
                   double radius_mm);
  /// @param hull not empty, and kept by the caller; @param box holds it in its frame.
  void AddHull(const HullPoints& hull, const Eigen::AlignedBox3d& box, const kinematics::Pose& X);
  /// Corners of an axis-aligned box, mapped by X.
  void AddBox(const Eigen::AlignedBox3d& box, const kinematics::Pose& X);

  /// @returns the point of the hull (without the ball) farthest along `along`.
  Eigen::Vector3d Support(const Eigen::Vector3d& along) const;
  /// @returns how far the solid, ball and all, reaches along a unit vector.
  double HeightAlong(const Eigen::Vector3d& along) const;
  /// Axis-aligned box that holds hull and ball.
  Eigen::AlignedBox3d Bounds() const;
  /// Some point of the solid.
  Eigen::Vector3d AnyPoint() const;

  double radius_mm = 0.0;   ///< of the ball

 private:
  struct Box {
    Eigen::Vector3d middle;
    Eigen::Matrix3d half;   // its columns: from the middle to three faces
  };
  struct Cylinder {
    Eigen::Vector3d from, to, axis, u, v;   // u, v: unit, square to the axis
    double radius_mm;
  };
  struct Hull {
    const HullPoints* points;
    Eigen::Vector3d middle, half_size;   // of the box that holds it, in its frame
    Eigen::Matrix3d R;
    Eigen::Vector3d p;
  };
  int points_ = 0, boxes_ = 0, cylinders_ = 0, hulls_ = 0;
  std::array<Eigen::Vector3d, kMostPoints> point_;
  std::array<Box, kMostBoxes> box_;
  std::array<Cylinder, kMostCylinders> cylinder_;
  std::array<Hull, kMostHulls> hull_;
};

struct ConvexGap {
  double distance_mm = 0.0;   ///< from the witnesses; <= 0 when the solids touch or overlap
  double lower_mm = 0.0;      ///< proven: no point pair is nearer (only while apart)
  bool hulls_meet = false;    ///< even the hulls without their balls overlap
  Eigen::Vector3d p_A = Eigen::Vector3d::Zero(), p_B = Eigen::Vector3d::Zero();
  Eigen::Vector3d axis = Eigen::Vector3d::UnitX();   ///< unit, from B to A: separates best
};

/// Distance of two convex solids by the method of Gilbert, Johnson and Keerthi
/// (IEEE J. Robotics and Automation 4(2) 1988): the distance from the witness
/// points and, from the best separating plane met, a proven lower bound.
/// @param stop_above_mm search ends once lower_mm is above this.
/// @param axis first direction to try, any length but zero.
ConvexGap DistanceOf(const ConvexCore& a, const ConvexCore& b, double stop_above_mm,
                     const Eigen::Vector3d& axis);

/// Estimate of how deep two solids whose hulls meet overlap; fills distance_mm
/// (negative), the witnesses and the axis.
ConvexGap OverlapOf(const ConvexCore& a, const ConvexCore& b);

}  // namespace aircut::sim
