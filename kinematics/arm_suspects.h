#pragma once

#include <vector>

#include "kinematics/arm_model.h"
#include "kinematics/units.h"

namespace aircut::kinematics {

/// One row that the arm's controller showed: joint values and the flange pose.
struct ArmReadout {
  JointVector q;                   ///< panel values [rad]
  Pose X_BF = Pose::Identity();    ///< as shown [mm]
};

/// How far the model's flange lies from the shown one.
struct ReadoutResidual {
  double position_mm = 0.0;
  double turn_rad = 0.0;
};

/// @returns one residual per read-out.
/// @throws std::invalid_argument naming the row if its joint count differs or a
/// value is not finite or the pose not rigid (within 1e-6: shown numbers are rounded).
std::vector<ReadoutResidual> ReadoutResiduals(const ArmModel& arm,
                                              const std::vector<ArmReadout>& readouts);

/// One thing that can be wrong in a model.
enum class SuspectKind {
  kSign,      ///< the joint turns the other way
  kZero,      ///< the joint's zero is off
  kCoupling,  ///< the joint follows another one differently
  kScale      ///< all lengths are in another unit
};

/// A single error of the model that would explain read-outs that disagree.
struct Suspect {
  SuspectKind kind = SuspectKind::kZero;
  int joint = -1;      ///< from 0; -1 for kScale
  int driver = -1;     ///< kCoupling: the joint (from 0) that is followed; else -1
  /// kSign: the right sign. kZero: what zero_rad needs added [rad], in (-pi, pi].
  /// kCoupling: the right ratio, 0 for none. kScale: what the model's lengths need
  /// to be multiplied by.
  double amount = 0.0;
  double residual_mm = 0.0;    ///< largest over the rows, with the error mended
  double residual_rad = 0.0;
};

/// Single errors that bring the model nearer to the read-outs, most likely first.
/// Signs, zeros (fitted), coupling of each joint to each earlier one (ratio +1, -1, 0
/// or fitted; a joint that follows one joint is also tried behind another) and the
/// scales inch/mm, mm/inch, m/mm, mm/m. External axes that carry the foot have signs
/// and zeros [mm for a slide] too; those under the work do not show in F in B. Of errors that explain alike,
/// the one with nothing fitted comes first. The base frame is not part of it: read-outs are of F in B. Ratios
/// are looked for in [-2, 2]. Cost: about 2,000 forward kinematics per read-out of a six-joint arm.
/// @returns nothing where no single error betters the agreement, or no read-out is
/// given. Empty does not mean that the model is right.
/// @throws std::invalid_argument as ReadoutResiduals.
std::vector<Suspect> RankSuspects(const ArmModel& arm, const std::vector<ArmReadout>& readouts);

/// How strongly some read-outs would show a single error if it were there.
struct Visibility {
  SuspectKind kind = SuspectKind::kZero;
  int joint = -1;
  int driver = -1;
  double amount = 0.0;         ///< as in Suspect, of the error
  double shown_mm = 0.0;       ///< largest over the rows
  double shown_rad = 0.0;
};

/// Size of the zero error that VisibilityOf looks for: 1 deg, of a slide 1 mm.
inline constexpr double kZeroError_rad = RadFromDeg(1.0);
inline constexpr double kZeroError_mm = 1.0;

/// For every single error the residual that these read-outs would show: the sign of
/// each joint, its zero by 1 deg (a slide's by 1 mm), and the coupling of joint 3 to joint 2 (ratio +1 and
/// -1, or 0 where there is one). A joint that stands at 0 in every row shows no sign.
/// Only the joint values of the read-outs count.
/// @throws std::invalid_argument as ReadoutResiduals.
std::vector<Visibility> VisibilityOf(const ArmModel& arm, const std::vector<ArmReadout>& readouts);

}  // namespace aircut::kinematics
