#include "verify/cell_scene.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "kinematics/branch_follower.h"
#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "verify/shape_mesh.h"

namespace aircut::verify {
namespace {

using kinematics::JointVector;
using kinematics::Pose;

constexpr int kTurns = 72;   // of 5 degrees

DrawnBody Placed(BodyKind kind, const sim::Shape& shape, const Pose& X_WA) {
  DrawnBody body;
  body.kind = kind;
  body.mesh = sim::Transformed(SurfaceOf(shape), X_WA);
  return body;
}

sim::Shape AlongAxis(double z0_mm, double z1_mm, double radius_mm) {
  return sim::CylinderShape{{0, 0, z0_mm}, {0, 0, z1_mm}, radius_mm};
}

// The outline as points close enough for a picture.
std::vector<Eigen::Vector2d> ProfileOf(const sim::CutterOutline& outline) {
  constexpr int kSteps = 24;
  std::vector<Eigen::Vector2d> profile;
  for (const sim::OutlinePiece& piece : outline.pieces) {
    if (profile.empty()) profile.push_back(piece.from);
    if (piece.arc) {
      const Eigen::Vector2d a = piece.from - piece.centre, b = piece.to - piece.centre;
      double turn_rad = std::atan2(a.x() * b.y() - a.y() * b.x(), a.dot(b));
      if (piece.clockwise && turn_rad > 0) turn_rad -= 2 * kinematics::kPi;
      if (!piece.clockwise && turn_rad < 0) turn_rad += 2 * kinematics::kPi;
      for (int i = 1; i < kSteps; ++i) {
        profile.push_back(piece.centre + Eigen::Rotation2Dd(turn_rad * i / kSteps) * a);
      }
    }
    profile.push_back(piece.to);
  }
  return profile;
}

void AddCutter(const sim::CellCutter& cutter, const Pose& X_WT, std::vector<DrawnBody>& bodies) {
  const sim::Mesh flutes = RevolvedSurface(ProfileOf(cutter.cutter.outline()));
  bodies.push_back({BodyKind::kCutter, "", 0, sim::Transformed(flutes, X_WT)});
  const double flutes_mm = cutter.cutter.flute_length_mm();
  if (cutter.stick_out_mm > flutes_mm) {
    bodies.push_back(Placed(BodyKind::kHolder, AlongAxis(flutes_mm, cutter.stick_out_mm, 0.5 * cutter.shank_diameter_mm),
                            X_WT));
  }
  for (const sim::BodyCylinder& step : cutter.holder) {
    bodies.push_back(Placed(BodyKind::kHolder, AlongAxis(step.z0_mm, step.z1_mm, step.radius_mm), X_WT));
  }
}

void AddSpindle(const sim::Cell& cell, const Pose& X_WH, std::vector<DrawnBody>& bodies) {
  for (const sim::Shape& shape : cell.housing_shapes_H) bodies.push_back(Placed(BodyKind::kSpindle, shape, X_WH));
  for (const sim::Shape& shape : cell.dust_hood_H) {
    bodies.push_back(Placed(BodyKind::kObstacle, shape, X_WH));
    bodies.back().name = "dust hood";
  }
}

Pose TipInNose(const sim::CellCutter& cutter) {
  Pose X_HT = Pose::Identity();
  X_HT.translation().z() = -cutter.stick_out_mm;
  return X_HT;
}

void AddLinks(const sim::Cell& cell, const std::vector<Pose>& X_WL, std::vector<DrawnBody>& bodies) {
  const auto add = [&](const std::vector<sim::LinkBody>& links, BodyKind kind, const char* name) {
    for (const sim::LinkBody& link : links) {
      if (link.link < 0 || link.link >= static_cast<int>(X_WL.size())) continue;
      for (const sim::Shape& shape : link.shapes) {
        bodies.push_back(Placed(kind, shape, X_WL[static_cast<std::size_t>(link.link)]));
        bodies.back().link = link.link;
        bodies.back().name = name;
      }
    }
  };
  add(cell.links, BodyKind::kArm, "");
  add(cell.hose_bodies, BodyKind::kObstacle, "hose");   // room to keep clear: seen through
}

void AddStanding(const sim::Cell& cell, const Pose& X_WS, std::vector<DrawnBody>& bodies) {
  for (const sim::Shape& shape : cell.fixture_S) bodies.push_back(Placed(BodyKind::kFixture, shape, X_WS));
  for (const sim::Clamp& clamp : cell.clamps) {
    for (const sim::Shape& shape : clamp.body_S) bodies.push_back(Placed(BodyKind::kFixture, shape, X_WS));
  }
  for (const sim::NamedBody& obstacle : cell.obstacles_W) {
    for (const sim::Shape& shape : obstacle.shapes) {
      bodies.push_back(Placed(BodyKind::kObstacle, shape, Pose::Identity()));
      bodies.back().name = obstacle.name;
    }
  }
}

bool Allowed(const kinematics::ArmModel& arm, const JointVector& q) {
  if (!arm.InRange(q)) return false;
  for (int j = 0; j < arm.joint_count(); ++j) {
    const auto& sum = arm.joints()[static_cast<std::size_t>(j)].sum_limit;
    if (!sum) continue;
    const double value = q[j] + sum->ratio * q[sum->joint];
    if (!(value >= sum->lower_rad && value <= sum->upper_rad)) return false;
  }
  return true;
}

}  // namespace

Pose FootInWorld(const sim::Cell& cell, const JointVector& q) {
  if (!cell.arm || cell.arm->externals().empty()) return cell.X_WB;
  return cell.X_WB * kinematics::FootPose(*cell.arm, kinematics::ExternalPart(*cell.arm, q));
}

Pose WorkInWorld(const sim::Cell& cell, const JointVector& q) {
  if (!cell.arm || cell.arm->externals().empty()) return cell.X_WS;
  const Pose motion_B = kinematics::TableMotion(*cell.arm, kinematics::ExternalPart(*cell.arm, q));
  return cell.X_WB * motion_B * cell.X_WB.inverse() * cell.X_WS;
}

JointVector HomePosture(const sim::Cell& cell) {
  if (!cell.arm || cell.home.size() == cell.arm->joint_count()) return cell.home;
  JointVector q(cell.arm->joint_count());
  for (int j = 0; j < cell.arm->joint_count(); ++j) {
    const kinematics::JointSpec& joint = cell.arm->joints()[static_cast<std::size_t>(j)];
    q[j] = 0.5 * (joint.lower_rad + joint.upper_rad);
  }
  return q;
}

std::vector<DrawnBody> BodiesInWorld(const sim::Cell& cell, const JointVector& q, const sim::CellCutter* cutter) {
  if (!cell.arm) throw std::invalid_argument("BodiesInWorld: the cell has no arm");
  std::vector<Pose> X_WL = {FootInWorld(cell, q)};
  for (const Pose& X_BL : kinematics::LinkPoses(*cell.arm, q)) X_WL.push_back(cell.X_WB * X_BL);
  const Pose X_WH = X_WL.back() * cell.X_FH;
  std::vector<DrawnBody> bodies;
  AddLinks(cell, X_WL, bodies);
  AddSpindle(cell, X_WH, bodies);
  if (cutter != nullptr) AddCutter(*cutter, X_WH * TipInNose(*cutter), bodies);
  AddStanding(cell, WorkInWorld(cell, q), bodies);
  return bodies;
}

std::vector<DrawnBody> ToolStackInNose(const sim::Cell& cell, const sim::CellCutter& cutter) {
  std::vector<DrawnBody> bodies;
  const int flange = cell.arm ? static_cast<int>(cell.arm->chain().size()) : -1;
  const Pose X_HF = cell.X_FH.inverse();
  for (const sim::LinkBody& link : cell.links) {
    if (link.link != flange) continue;
    for (const sim::Shape& shape : link.shapes) bodies.push_back(Placed(BodyKind::kArm, shape, X_HF));
  }
  AddSpindle(cell, Pose::Identity(), bodies);
  AddCutter(cutter, TipInNose(cutter), bodies);
  return bodies;
}

std::optional<JointVector> PostureAtWorkpieceZero(const sim::Cell& cell, const sim::CellCutter& cutter) {
  if (!cell.arm) return std::nullopt;
  try {
    const kinematics::BranchFollower solver(*cell.arm);
    const Pose X_TF = (cell.X_FH * TipInNose(cutter)).inverse();
    const JointVector home = HomePosture(cell), external = kinematics::ExternalPart(*cell.arm, home);
    const Pose X_AS = kinematics::WorkInFoot(*cell.arm, cell.X_WB.inverse() * cell.X_WS, external);
    std::optional<JointVector> nearest;
    double nearest_rad = 0;
    for (int i = 0; i < kTurns; ++i) {
      const Eigen::AngleAxisd turn(2 * kinematics::kPi * i / kTurns, Eigen::Vector3d::UnitZ());
      const kinematics::PoseSolutions solutions = solver.Solve(X_AS * turn * X_TF);
      for (std::size_t id = 0; id < kinematics::kPostures; ++id) {
        if (!solutions.found[id]) continue;
        JointVector q(home.size());
        q << Eigen::Map<const Eigen::Matrix<double, 6, 1>>(solutions.q[id].data()), external;
        const double away_rad = (q - home).cwiseAbs().maxCoeff();
        if (!Allowed(*cell.arm, q) || (nearest && !(away_rad < nearest_rad))) continue;
        nearest = q;
        nearest_rad = away_rad;
      }
    }
    return nearest;
  } catch (const std::invalid_argument&) {
    return std::nullopt;
  }
}

}  // namespace aircut::verify
