#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Geometry>

#include "sim/cell.h"

namespace aircut::sim {

/// Rows of a push test at one place, in one direction, with one dial: one push or
/// several, loading and unloading.
struct PushSeries {
  int first_line = 0, last_line = 0;
  Eigen::Vector3d p_S = Eigen::Vector3d::Zero();          ///< where it was pushed [mm]
  Eigen::Vector3d direction_S = Eigen::Vector3d::Zero();  ///< unit
  Eigen::Vector3d p_SG = Eigen::Vector3d::Zero();         ///< where the dial touches [mm]
  std::string stands_on;
  double force_n = 0;                      ///< largest
  double displacement_mm = 0;              ///< there
  /// Least squares: displacement over force through the start of the push, and the
  /// return over what was let off, through its turning point.
  double loading_mm_n = 0;
  std::optional<double> unloading_mm_n;
  std::optional<double> hysteresis_mm;     ///< most by which the way back stands off the way there
  std::optional<double> slip_mm;           ///< what stays when the force is gone: read, else by the way back
  double scatter_mm = 0;                   ///< most by which a loading row stands off its line

  /// The softer of both ways. Source: domain notes C15.
  double compliance_mm_n() const;
  /// Hysteresis, slip and scatter, the largest, as a share of the displacement.
  double band() const;
};

/// Gathers rows; a series keeps the order of its rows in the table.
std::vector<PushSeries> PushSeriesOf(const std::vector<PushRow>& rows);

/// Why rows make no push test: the line and a sentence without its place.
struct PushFault {
  int line = 0;
  std::string what;
};
/// @returns the first fault: no row with a force, a push that moves the piece against
/// itself or not at all, or pushes along one line only; nothing where there is none.
std::optional<PushFault> FindPushFault(const std::vector<PushRow>& rows);

/// What a fixture with its piece gives under a force.
///   kTyped         numbers along x, y, z of S, for every place
///   kPerDirection  pushes along lines square to each other, each line by height
///   kPoint         a full symmetric 3x3 from six directions or more at one place
///   kRigidBody     a symmetric 6x6: the piece moves as a body on its springs
enum class PushModel { kTyped, kPerDirection, kPoint, kRigidBody };

/// Spring of the fixture. Immutable; S throughout, mm and N.
class FixtureSpring {
 public:
  /// @param n_per_mm along x, y, z, > 0.
  static FixtureSpring FromNumbers(const Eigen::Vector3d& n_per_mm);
  /// The richest model that the pushes allow. Between pushed heights compliance goes on a
  /// straight line: rocking grows with the square of the height, so the chord lies on the
  /// soft side. @param rows without a fault.
  static FixtureSpring FromPushes(const std::vector<PushRow>& rows);

  /// Displacement of a place by a force there: 3x3, symmetric [mm/N]. Zero along what
  /// `untold` names.
  Eigen::Matrix3d ComplianceAt(const Eigen::Vector3d& p_S) const;
  /// Unit lines along which nothing was pushed.
  const std::vector<Eigen::Vector3d>& untold() const { return untold_; }
  /// Lines whose pushes span the model, softest first; x, y, z for kTyped.
  std::vector<Eigen::Vector3d> SoftLines(const Eigen::Vector3d& p_S) const;
  /// Share by which the compliance may be off: the largest of all series; 0 for kTyped.
  double band() const { return band_; }
  PushModel model() const { return model_; }
  /// Whether the pushes speak for a place: within kHeight_mm of the heights pushed
  /// across, and within kAside_mm of the places pushed. Engineering judgement.
  bool Covers(const Eigen::Vector3d& p_S) const;
  /// Heights in S that were pushed across [mm]; empty for kTyped.
  const std::optional<std::pair<double, double>>& heights() const { return heights_; }

  static constexpr double kHeight_mm = 5.0, kAside_mm = 50.0;

 private:
  struct AtHeight {
    double z_mm = 0, mm_n = 0;
  };
  struct Line {
    Eigen::Vector3d direction_S = Eigen::Vector3d::Zero();
    std::vector<AtHeight> at;   // by rising height
  };

  bool FitRigidBody(const std::vector<PushSeries>& series);
  bool FitPoint(const std::vector<PushSeries>& series);
  void FitLines(const std::vector<PushSeries>& series);
  void NoteReach(const std::vector<PushSeries>& series);

  PushModel model_ = PushModel::kTyped;
  Eigen::Matrix3d point_ = Eigen::Matrix3d::Zero();             // kTyped, kPoint
  std::vector<Line> lines_;                                     // kPerDirection
  Eigen::Matrix<double, 6, 6> body_ = Eigen::Matrix<double, 6, 6>::Zero();   // kRigidBody, about middle_
  Eigen::Vector3d middle_ = Eigen::Vector3d::Zero();
  std::vector<Eigen::Vector3d> untold_;
  double band_ = 0;
  std::optional<std::pair<double, double>> heights_;
  std::optional<Eigen::AlignedBox3d> places_;
};

/// @returns the fixture's spring of a cell; nothing where none is given.
std::optional<FixtureSpring> FixtureSpringOf(const Cell& cell);

/// "x", "-z" for an axis of S, else "(0.71, 0.71, 0)".
std::string LineWord(const Eigen::Vector3d& direction_S);

}  // namespace aircut::sim
