#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "kinematics/external_axes.h"
#include "kinematics/joint_room.h"
#include "kinematics/units.h"
#include "verify/arm_postures.h"
#include "verify/arm_reach.h"
#include "verify/cell_scene.h"
#include "verify/cell_sheet_parts.h"
#include "verify/cell_words.h"
#include "verify/words.h"

// The arm, how far it gets, and where its frames lie.
namespace aircut::verify {
namespace {

using kinematics::JointSpec;

constexpr double kArcminPerRad = 60.0 * 180.0 / kinematics::kPi;

// A joint's value in its own unit.
std::string GivenValue(const sim::Cell& cell, int joint, double value) {
  return kinematics::IsSlide(*cell.arm, joint) ? GivenMm(value) : GivenDegrees(value);
}

// Where an external axis lies and what it carries.
std::string AxisRow(const kinematics::ExternalAxis& axis) {
  const bool slides = axis.kind == kinematics::ExternalKind::kSlide;
  std::string text = fmt::format("{} {} in the base", slides ? "slides along" : "turns about",
                                 GivenTriple(axis.direction_B));
  if (!slides) text += fmt::format(" through {} mm", GivenTriple(axis.p_B));
  return text +
         (axis.side == kinematics::ExternalSide::kTool ? ", carries the arm" : ", carries the workpiece");
}

std::string Range(double lower_rad, double upper_rad) {
  return fmt::format("{} to {}", GivenDegrees(lower_rad), GivenDegrees(upper_rad));
}

// How panel and model belong together, and what couples the joint to others.
std::string SenseOf(const JointSpec& joint, const std::string& zero) {
  std::string text = joint.sign < 0 ? "counts against the model" : "counts as the model turns";
  if (joint.zero_rad != 0) text += fmt::format(", panel 0 is model {}", zero);
  return text;
}

std::string CouplingsOf(const JointSpec& joint, int number) {
  std::string text;
  if (joint.follows) {
    text += SheetRow("", fmt::format("joint {} follows joint {} by {}: with its panel value held, it turns {}° "
                                     "for each degree of joint {}",
                                     number, joint.follows->joint + 1, Given(joint.follows->ratio),
                                     Given(joint.follows->ratio), joint.follows->joint + 1));
  }
  if (joint.sum_limit) {
    const double ratio = joint.sum_limit->ratio;
    const std::string times = ratio == 1 ? "" : Given(ratio) + " times ";
    text += SheetRow("", fmt::format("joint {} plus {}joint {} stays within {}", number, times,
                                     joint.sum_limit->joint + 1,
                                     Range(joint.sum_limit->lower_rad, joint.sum_limit->upper_rad)));
  }
  return text;
}

std::string DriveOf(const sim::JointDrive& drive) {
  std::string text;
  if (drive.stiffness_nm_rad) text += fmt::format(", stiffness {} Nm/rad", Given(*drive.stiffness_nm_rad));
  if (drive.lost_motion_rad) {
    text += fmt::format(", lost motion {} arcmin", Given(kArcminPerRad * *drive.lost_motion_rad));
  }
  return text;
}

std::string JointRows(const sim::Cell& cell) {
  std::string text;
  for (int j = 0; j < cell.arm->joint_count(); ++j) {
    const JointSpec& joint = cell.arm->joints()[static_cast<std::size_t>(j)];
    const std::size_t i = static_cast<std::size_t>(j);
    const auto given = [&](double value) { return GivenValue(cell, j, value); };
    text += SheetRow(kinematics::NameOfJoint(*cell.arm, j),
                     fmt::format("{} to {}, {}/s, {}/s², {}{}", given(joint.lower_rad),
                                 given(joint.upper_rad), given(joint.speed_rad_s),
                                 given(joint.acceleration_rad_s2), SenseOf(joint, given(joint.zero_rad)),
                                 i < cell.drives.size() ? DriveOf(cell.drives[i]) : ""));
    text += CouplingsOf(joint, j + 1);
    const std::size_t own = cell.arm->chain().size();
    if (i >= own) text += SheetRow("", AxisRow(cell.arm->externals()[i - own]));
  }
  return text;
}

std::string FitText(const sim::ArmFit& fit) {
  std::string values;
  for (const double k : fit.stiffness_nm_rad) values += fmt::format("{}{:.3g}", values.empty() ? "" : ", ", k);
  return fmt::format("{} Nm/rad by {} of {}, off by up to {:.0f} % of the deflection", values,
                     Plural(fit.poses, "pose"), fit.file, 100 * fit.band);
}

std::string HomeText(const sim::Cell& cell) {
  std::string text;
  for (int j = 0; j < cell.home.size(); ++j) {
    const bool known = j < cell.arm->joint_count();
    text +=
        (text.empty() ? "" : ", ") + (known ? GivenValue(cell, j, cell.home[j]) : GivenDegrees(cell.home[j]));
  }
  return text.empty() ? "not said" : text;
}

std::string ReachRow(const std::string& label, const ArmReach& reach) {
  return SheetRow(label, fmt::format("{} from the axis of joint 1; lowest {}, highest {} in the world",
                                     Millimetres(reach.farthest_mm), Millimetres(reach.lowest_mm),
                                     Millimetres(reach.highest_mm)));
}

Eigen::Vector3d TipInFlange(const sim::Cell& cell, const sim::CellCutter& cutter) {
  return cell.X_FH * Eigen::Vector3d(0, 0, -cutter.stick_out_mm);
}

std::string TipRows(const sim::Cell& cell) {
  std::string text;
  for (const auto& [number, cutter] : cell.cutters) {
    text += ReachRow(fmt::format("tip of cutter {}", number), FindReach(cell, TipInFlange(cell, cutter)));
  }
  return text;
}

std::string LeaningNote(const sim::Cell& cell) {
  const kinematics::ChainJoint& first = cell.arm->chain().front();
  const Eigen::Vector3d axis_W =
      FootInWorld(cell, HomePosture(cell)).linear() * first.before.linear() * first.axis;
  const bool upright = axis_W.head<2>().norm() < 1e-6;
  return upright ? "" : "  The axis of joint 1 does not stand upright in the world.\n";
}

}  // namespace

std::string ArmSection(const sim::Cell& cell) {
  std::string text = fmt::format("Arm: {}\n", cell.arm_name.empty() ? "no name" : cell.arm_name);
  if (!cell.arm) return text + "  no arm\n";
  if (!cell.arm_source.empty()) text += SheetRow("source", cell.arm_source);
  text += SheetRow("form", fmt::format("{}, {}", cell.arm_form.empty() ? "not said" : cell.arm_form,
                                       Plural(static_cast<std::int64_t>(cell.arm->chain().size()), "joint")));
  text += SheetRow("postures", PosturesText(*cell.arm));
  text += SheetRow("", "joints as the panel shows them: range, speed, acceleration, sense and zero");
  text += JointRows(cell);
  if (cell.arm_fit) text += SheetRow("stiffness", FitText(*cell.arm_fit));
  text += SheetRow("home", HomeText(cell));
  text += SheetRow("repeatability", cell.repeatability_mm ? GivenMm(*cell.repeatability_mm) : "not said");
  text += SheetRow("accuracy", cell.accuracy ? fmt::format("{} over {} ({})", GivenMm(cell.accuracy->error_mm),
                                                           GivenMm(cell.accuracy->over_mm), cell.accuracy->source)
                                             : "not said");
  return text;
}

std::string ReachSection(const sim::Cell& cell) {
  std::string text = "Reach, found by search over the joint ranges, whatever would clash\n";
  if (!cell.arm) return text + "  no arm\n";
  try {
    const auto wrist_F = WristCentreInFlange(*cell.arm);
    text += wrist_F ? ReachRow("wrist centre", FindReach(cell, *wrist_F))
                    : SheetRow("wrist centre", "none: the last three axes do not meet in a point");
    text += ReachRow("flange", FindReach(cell, Eigen::Vector3d::Zero()));
    if (!cell.arm->externals().empty()) text += "  The external axes stand at home.\n";
    return text + TipRows(cell) + LeaningNote(cell);
  } catch (const std::invalid_argument&) {
    return text + "  no posture was found that keeps all joint ranges\n";
  }
}

std::string FrameSection(const sim::Cell& cell) {
  std::string text = "Frames\n";
  if (cell.arm && !cell.arm->externals().empty()) text += "  with the external axes at model value 0\n";
  text += SheetRow("base B in world W", GivenPose(cell.X_WB));
  text += SheetRow("nose H in flange F", GivenPose(cell.X_FH));
  for (const auto& [number, cutter] : cell.cutters) {
    text += SheetRow(fmt::format("tip T{} in nose H", number), GivenTriple({0, 0, -cutter.stick_out_mm}) + " mm, not turned");
  }
  text += SheetRow("workpiece S in world W", GivenPose(cell.X_WS));
  const kinematics::Pose X_BS = cell.X_WB.inverse() * cell.X_WS;
  return text + SheetRow("workpiece S in base B", GivenPose(X_BS));
}

}  // namespace aircut::verify
