#include "kinematics/posture_choice.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

PostureChoice Choose(const PlanRequest& request) {
  const PathTargets targets(request);
  const BranchFollower follower(*request.arm);
  return ChoosePostures(targets, *request.arm, follower, {});
}

bool AllFollowed(const PostureChoice& choice) {
  return std::all_of(choice.state.begin(), choice.state.end(),
                     [](const LineState state) { return state == LineState::kFollowed; });
}

double MarginOf(const ArmModel& arm, const JointVector& q) {
  double margin_rad = std::numeric_limits<double>::infinity();
  for (Eigen::Index j = 0; j < q.size(); ++j) {
    const JointSpec& joint = arm.joints()[static_cast<std::size_t>(j)];
    margin_rad = std::min({margin_rad, q[j] - joint.lower_rad, joint.upper_rad - q[j]});
  }
  return margin_rad;
}

// Lines that turn the tool about its own axis at one place.
ToolPath SpinInPlace(const double total_deg, const int lines) {
  ToolPath path;
  for (int i = 0; i < lines; ++i) {
    PathLine line = Line(i + 1, {0, 0, 0}, 20.0);
    const double angle_rad = RadFromDeg(total_deg) * i / (lines - 1);
    line.R_ST = Eigen::AngleAxisd(angle_rad, Eigen::Vector3d::UnitZ()).toRotationMatrix();
    path.push_back(line);
  }
  return path;
}

// Two cuts, a rapid before each: the first with the tool down, the second with
// the tool pointing away from the arm and up.
ToolPath DownThenUp() {
  ToolPath path;
  const Eigen::Vector3d down(0, 0, 1), up(-1, 0, -0.3);
  int number = 1;
  for (const Eigen::Vector3d& axis_S : {down, up}) {
    const double z_mm = axis_S.z() > 0.0 ? 0.0 : 900.0;
    path.push_back(Line(number++, {0, 0, z_mm}, 0, MoveKind::kRapid, axis_S));
    for (int i = 1; i < 5; ++i) {
      path.push_back(Line(number++, {0, 2.0 * i, z_mm}, 20, MoveKind::kCut, axis_S));
    }
  }
  return path;
}

// Joint 4 may hardly turn, so the wrist must bend the way the tool points.
ArmModel ArmWithStiffJoint4() {
  std::vector<JointSpec> joints = InventedArm::Joints();
  joints[3].lower_rad = RadFromDeg(-60);
  joints[3].upper_rad = RadFromDeg(60);
  return InventedArm::Make(joints);
}

PlanRequest DownThenUpRequest(const ArmModel& arm, const RapidRule rapid) {
  PlanRequest request = Request(arm, DownThenUp());
  request.toward_S = Eigen::Vector3d::UnitY();
  request.controller.rapid = rapid;
  return request;
}

TEST(PostureChoiceTest, OnePostureIsHeldThroughAllRows) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = Request(arm, WavyRows(5, 80));
  const PostureChoice choice = Choose(request);
  EXPECT_TRUE(AllFollowed(choice));
  EXPECT_THAT(choice.posture, testing::Each(choice.posture.front()));
}

// Oracle: forward kinematics.
TEST(PostureChoiceTest, JointsReproduceTheTargets) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = Request(arm, WavyRows(3, 60));
  const PostureChoice choice = Choose(request);
  const PathTargets targets(request);
  for (std::size_t i = 0; i < choice.q.size(); ++i) {
    const Pose error = targets.X_AF(i).inverse() * FlangePose(arm, choice.q[i]);
    EXPECT_LT((error.matrix() - Eigen::Matrix4d::Identity()).norm(), 1e-8) << "line " << i + 1;
  }
}

// Oracle: brute force over all solutions and all their whole turns of single
// lines; where all are outside the ranges the one least outside.
TEST(PostureChoiceTest, SingleLineGetsTheLargestMarginOfAllSolutionsAndTurns) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  joints[4].lower_rad = RadFromDeg(-70);
  joints[4].upper_rad = RadFromDeg(70);
  const ArmModel arm = InventedArm::Make(joints);
  const InverseKinematics ik(arm);
  std::mt19937_64 rng(3);
  std::uniform_real_distribution<double> place_mm(-500, 500), tilt(-1.5, 1.5);
  int inside = 0, outside = 0;
  for (int run = 0; run < 200; ++run) {
    const double x_mm = place_mm(rng), y_mm = place_mm(rng), z_mm = place_mm(rng);
    const double i = tilt(rng), j = tilt(rng);
    const PlanRequest request =
        Request(arm, {Line(1, {x_mm, y_mm, z_mm}, 20, MoveKind::kCut, {i, j, 1})});
    double best_rad = -std::numeric_limits<double>::infinity();
    for (const IkSolution& solution : ik.Solve(PathTargets(request).X_AF(0))) {
      JointVector q = solution.q;
      for (Eigen::Index joint = 0; joint < 6; ++joint) {
        const JointSpec& spec = arm.joints()[static_cast<std::size_t>(joint)];
        const auto margin_rad = [&](const double value) {
          return std::min(value - spec.lower_rad, spec.upper_rad - value);
        };
        for (const double turns : {-2.0, -1.0, 1.0, 2.0}) {
          const double copy = solution.q[joint] + turns * 2.0 * kPi;
          if (margin_rad(copy) > margin_rad(q[joint])) q[joint] = copy;
        }
      }
      best_rad = std::max(best_rad, MarginOf(arm, q));
    }
    if (!std::isfinite(best_rad)) continue;   // no solution
    ++(best_rad >= 0.0 ? inside : outside);
    const PostureChoice choice = Choose(request);
    ASSERT_TRUE(AllFollowed(choice));
    EXPECT_NEAR(MarginOf(arm, choice.q[0]), best_rad, 1e-9) << "run " << run;
  }
  EXPECT_GT(inside, 50);
  EXPECT_GT(outside, 50);
}

// Oracle: the tool turns evenly, so joint 6, in line with it, does too. It
// starts at 180 deg (the spindle is turned by that about x), so of the copies
// of its 440 deg only the one from -180 to 260 deg, or its mirror, is in range.
TEST(PostureChoiceTest, TurnsAreCountedOverTheSeamOfJoint6) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, SpinInPlace(440.0, 89));
  request.spin = SpinRule::kAsWritten;
  const PostureChoice choice = Choose(request);
  ASSERT_TRUE(AllFollowed(choice));
  for (std::size_t i = 1; i < choice.q.size(); ++i) {
    EXPECT_NEAR(std::abs(choice.q[i][5] - choice.q[i - 1][5]), RadFromDeg(5.0), 1e-9);
  }
  EXPECT_NEAR(std::abs(choice.q.back()[5] - choice.q.front()[5]), RadFromDeg(440.0), 1e-9);
  EXPECT_NEAR(std::abs(choice.q.front()[5]), RadFromDeg(180.0), 1e-9);
  for (const JointVector& q : choice.q) EXPECT_GE(MarginOf(arm, q), 0.0);
}

// Joint 6 has 700 deg; 720 deg do not fit.
TEST(PostureChoiceTest, MoreTurnsThanTheRangeHasAreAFaultOfJoint6) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, SpinInPlace(720.0, 145));
  request.spin = SpinRule::kAsWritten;
  const Motion motion = PlanMotion(request);
  EXPECT_FALSE(motion.complete());
  ASSERT_FALSE(motion.faults.empty());
  for (const PlanFault& fault : motion.faults) {
    EXPECT_EQ(fault.kind, PlanFaultKind::kOutOfRange);
    EXPECT_EQ(fault.joint, 5);
    EXPECT_GT(fault.value, 0.0);
    EXPECT_LE(fault.value, RadFromDeg(370.0));
  }
}

// The same in both orders: what serves one cut does not serve the other.
TEST(PostureChoiceTest, PostureChangesAtAJointRapidWhereNoOnePostureServes) {
  const ArmModel arm = ArmWithStiffJoint4();
  PlanRequest request = DownThenUpRequest(arm, RapidRule::kJoint);
  for (int order = 0; order < 2; ++order) {
    const PostureChoice choice = Choose(request);
    ASSERT_TRUE(AllFollowed(choice));
    for (std::size_t i = 0; i < choice.posture.size(); ++i) {
      EXPECT_GE(MarginOf(arm, choice.q[i]), 0.0);
      const bool changes = i > 0 && choice.posture[i] != choice.posture[i - 1];
      EXPECT_EQ(changes, i == 5) << "line " << i + 1;
    }
    EXPECT_TRUE(PlanMotion(request).complete());
    std::rotate(request.path.begin(), request.path.begin() + 5, request.path.end());
  }
}

TEST(PostureChoiceTest, SamePathUnderStraightRapidsIsAPostureBreakAtTheRapid) {
  const ArmModel arm = ArmWithStiffJoint4();
  const Motion motion = PlanMotion(DownThenUpRequest(arm, RapidRule::kStraight));
  EXPECT_FALSE(motion.complete());
  ASSERT_EQ(motion.faults.size(), 1u);
  EXPECT_EQ(motion.faults[0].kind, PlanFaultKind::kPostureBreak);
  EXPECT_EQ(motion.faults[0].line, 6);
  EXPECT_EQ(motion.faults[0].value, motion.posture_per_line[4]);
  EXPECT_EQ(motion.faults[0].limit, motion.posture_per_line[5]);
}

// Oracle: the chosen postures differ in the bend of the wrist only, which the
// tool direction forces through the singular place in between.
TEST(PostureChoiceTest, CutThroughTheStraightWristIsNotFollowed) {
  const ArmModel arm = ArmWithStiffJoint4();
  PlanRequest request = Request(arm, {});
  const auto tool_pose = [&](const double bend_deg) {
    return request.X_BS.inverse() * FlangePose(arm, Joints6({0, 20, 10, 0, bend_deg, 0})) *
           SpindleInFlange();
  };
  int number = 0;
  for (double bend_deg = 20.0; bend_deg >= -20.0; bend_deg -= 4.0) {
    const Pose X_ST = tool_pose(bend_deg);
    PathLine line = Line(++number, X_ST.translation(), 20.0);
    line.R_ST = X_ST.linear();
    request.path.push_back(line);
  }
  request.X_FT.assign(request.path.size(), SpindleInFlange());
  request.spin = SpinRule::kAsWritten;
  const Motion motion = PlanMotion(request);
  EXPECT_FALSE(motion.complete());
  EXPECT_FALSE(motion.faults.empty());
}

// Oracle: in the plane of the arm joint 4 has no reason to turn.
TEST(PostureChoiceTest, CutThatStartsWithAStraightWristKeepsJoint4) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = Request(arm, {});
  for (int i = 0; i < 6; ++i) {
    const Pose X_ST = request.X_BS.inverse() *
                      FlangePose(arm, Joints6({0, 20, 10, 0, 3.0 * i, 0})) * SpindleInFlange();
    PathLine line = Line(i + 1, X_ST.translation(), 20.0);
    line.R_ST = X_ST.linear();
    request.path.push_back(line);
  }
  request.X_FT.assign(request.path.size(), SpindleInFlange());
  request.spin = SpinRule::kAsWritten;
  const Motion motion = PlanMotion(request);
  EXPECT_TRUE(motion.complete());
  for (const PlanFault& fault : motion.faults) ADD_FAILURE() << fault.text;
  ASSERT_FALSE(motion.tracks.empty());
  const MotionTrack& track = motion.tracks[0];
  double largest_rad = 0.0, smallest_rad = 0.0;
  for (std::size_t i = 0; i < track.size(); ++i) {
    if (track.phase[i] != Phase::kCut) continue;
    largest_rad = std::max(largest_rad, track.q[i][3]);
    smallest_rad = std::min(smallest_rad, track.q[i][3]);
  }
  EXPECT_LT(largest_rad - smallest_rad, 1e-6);
}

}  // namespace
}  // namespace aircut::kinematics
