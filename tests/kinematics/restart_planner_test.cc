#include "kinematics/restart_planner.h"

#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

// Joints follow from closed-form solutions good to 1e-9 mm.
constexpr double kPose_mm = 1e-6;
constexpr double kTurn_rad = 1e-8;

// A request with the motion that came of it.
struct Planned {
  explicit Planned(const std::vector<JointSpec>& joints = InventedArm::Joints())
      : arm(InventedArm::Make(joints)), request(Request(arm, WavyRows(3, 20))) {
    request.approach = {Joints6({0, 10, 20, 0, 60, 0})};
    Plan();
  }
  /// Orientations where planning leaves them to the request.
  void Plan() {
    motion = PlanMotion(request);
    if (!motion.R_ST_per_line.empty()) return;
    const PathTargets targets(request);
    for (std::size_t i = 0; i < targets.size(); ++i) motion.R_ST_per_line.push_back(targets.X_ST(i).linear());
  }
  Pose ToolAt(const JointVector& q, std::size_t line) const {
    return request.X_BS.inverse() * FlangePose(arm, q) * request.X_FT[line];
  }
  Pose WrittenAt(std::size_t line) const { return MakePose(motion.R_ST_per_line[line], request.path[line].p_ST); }

  ArmModel arm;
  PlanRequest request;
  Motion motion;
};

void ExpectNear(const Pose& got, const Pose& meant) {
  EXPECT_LE((got.translation() - meant.translation()).norm(), kPose_mm);
  EXPECT_LE((got.linear() - meant.linear()).norm(), kTurn_rad);
}

Pose Back(const Pose& X_ST, double back_mm) { return X_ST * Eigen::Translation3d(0, 0, back_mm); }

// Oracle: forward kinematics. Every moment stands on the tool axis of the line,
// turned as the line; the last one the whole distance up.
TEST(SidePlannerTest, WithdrawalRunsUpTheToolAxis) {
  const Planned p;
  ASSERT_TRUE(p.motion.complete());
  const SidePlanner planner(p.request, p.motion, 40.0);
  for (const std::size_t line : {1u, 7u, 20u, 30u, 60u}) {
    const SideMove move = planner.Withdrawal(line);
    ASSERT_FALSE(move.fault) << line;
    EXPECT_EQ(move.name, "withdrawal from line " + std::to_string(p.request.path[line].line));
    ExpectNear(p.ToolAt(move.q_line, line), p.WrittenAt(line));
    ExpectNear(p.ToolAt(move.q_back, line), Back(p.WrittenAt(line), 40.0));
    EXPECT_EQ(move.posture, p.motion.posture_per_line[line]);
    ASSERT_GE(move.track.size(), 2u);
    EXPECT_EQ(move.track.q.front(), move.q_line);
    EXPECT_LE(LargestStep(move.track.q.back(), move.q_back), 1e-12);
    for (const JointVector& q : move.track.q) {
      const Pose X_LT = p.WrittenAt(line).inverse() * p.ToolAt(q, line);
      EXPECT_LE(X_LT.translation().head<2>().norm(), kPose_mm);
      EXPECT_GE(X_LT.translation().z(), -kPose_mm);
      EXPECT_LE((X_LT.linear() - Eigen::Matrix3d::Identity()).norm(), kTurn_rad);
    }
    // The turns of the joints are those of the motion.
    const JointVector& q_motion = p.motion.tracks[0].q[MomentOfLine(p.motion.tracks[0], static_cast<int>(line))];
    EXPECT_LE(LargestStep(move.q_line, q_motion), 0.05);
  }
}

// Oracle: forward kinematics. A cut starts where the rapid before it ended; the way
// goes home, approach joints, above the start, start.
TEST(SidePlannerTest, RestartComesFromHomeAndGoesDownToTheStartOfTheCut) {
  const Planned p;
  const SidePlanner planner(p.request, p.motion, 25.0);
  for (const std::size_t line : {1u, 23u, 45u}) {   // first cut lines of the three rows
    ASSERT_EQ(p.request.path[line - 1].move, MoveKind::kRapid);
    ASSERT_EQ(p.request.path[line].move, MoveKind::kCut);
    const SideMove move = planner.Restart(line);
    ASSERT_FALSE(move.fault) << move.fault->text;
    EXPECT_EQ(move.line, p.request.path[line].line);
    EXPECT_EQ(move.track.q.front(), p.request.home);
    EXPECT_THAT(move.track.q, testing::Contains(p.request.approach[0]));
    ExpectNear(p.ToolAt(move.track.q[move.back_moment], line), Back(p.WrittenAt(line - 1), 25.0));
    ExpectNear(p.ToolAt(move.track.q.back(), line), p.WrittenAt(line - 1));
    ASSERT_LT(move.back_moment + 1, move.track.size());
    for (std::size_t m = move.back_moment; m < move.track.size(); ++m) {
      const Pose X_LT = p.WrittenAt(line - 1).inverse() * p.ToolAt(move.track.q[m], line);
      EXPECT_LE(X_LT.translation().head<2>().norm(), kPose_mm);
    }
    // The cutter of the cut is in the spindle all the way.
    EXPECT_THAT(move.track.path_index, testing::Each(static_cast<int>(line)));
  }
}

// A cut that is the first line of the path starts at that line.
TEST(SidePlannerTest, CutAtTheVeryStartIsResumedThere) {
  Planned p;
  p.request.path.erase(p.request.path.begin());
  p.request.X_FT.pop_back();
  p.Plan();
  ASSERT_TRUE(p.motion.complete());
  const SideMove move = SidePlanner(p.request, p.motion, 25.0).Restart(0);
  ASSERT_FALSE(move.fault);
  ExpectNear(p.ToolAt(move.q_line, 0), p.WrittenAt(0));
}

// Oracle: the arm's reach. 2.5 m above work that lies 1.6 m away is 3 m from the base,
// which no arm of 2.7 m reaches.
TEST(SidePlannerTest, DrawingBackBeyondReachIsAFault) {
  const Planned p;
  const SidePlanner planner(p.request, p.motion, 2500.0);
  const SideMove out = planner.Withdrawal(5), in = planner.Restart(1);
  ASSERT_TRUE(out.fault && in.fault);
  EXPECT_EQ(out.fault->kind, PlanFaultKind::kOutOfReach);
  EXPECT_EQ(in.fault->kind, PlanFaultKind::kOutOfReach);
  EXPECT_THAT(out.fault->text, testing::HasSubstr("The withdrawal from line 6 does not get 2500.0 mm back"));
  EXPECT_THAT(in.fault->text, testing::HasSubstr("restart at line 2"));
  EXPECT_EQ(out.track.size(), 0u);
  EXPECT_EQ(out.q_back.size(), 0);
}

// Oracle: brute force over the moments. The ranges are cut down to what the motion
// itself needs: drawing back then leaves one, by as much as the joints say.
TEST(SidePlannerTest, RangeLeftOnlyWhenDrawingBackIsAFault) {
  const Planned wide;
  std::vector<JointSpec> joints = InventedArm::Joints();
  for (Eigen::Index j = 0; j < 6; ++j) {
    JointSpec& joint = joints[static_cast<std::size_t>(j)];
    joint.lower_rad = std::numeric_limits<double>::infinity();
    joint.upper_rad = -joint.lower_rad;
    for (const JointVector& q : wide.motion.tracks[0].q) {
      joint.lower_rad = std::min(joint.lower_rad, q[j] - 1e-3);
      joint.upper_rad = std::max(joint.upper_rad, q[j] + 1e-3);
    }
  }
  const Planned tight(joints);
  ASSERT_TRUE(tight.motion.complete());
  EXPECT_FALSE(SidePlanner(tight.request, tight.motion, 1.0).Withdrawal(10).fault);
  const SideMove far = SidePlanner(tight.request, tight.motion, 600.0).Withdrawal(10);
  double least = std::numeric_limits<double>::infinity(), end_rad = 0.0;
  int of = -1;
  const auto take = [&](double room_rad, double limit_rad, Eigen::Index j) {
    if (room_rad >= least) return;
    least = room_rad;
    end_rad = limit_rad;
    of = static_cast<int>(j);
  };
  for (const JointVector& q : far.track.q) {
    for (Eigen::Index j = 0; j < 6; ++j) {
      const JointSpec& joint = joints[static_cast<std::size_t>(j)];
      take(q[j] - joint.lower_rad, joint.lower_rad, j);
      take(joint.upper_rad - q[j], joint.upper_rad, j);
    }
  }
  ASSERT_LT(least, 0.0);
  ASSERT_TRUE(far.fault);
  EXPECT_EQ(far.fault->kind, PlanFaultKind::kOutOfRange);
  EXPECT_EQ(far.fault->joint, of);
  EXPECT_DOUBLE_EQ(far.margin.margin_rad, least);
  EXPECT_DOUBLE_EQ(far.fault->value, -least);
  EXPECT_DOUBLE_EQ(far.fault->limit, end_rad);
  EXPECT_THAT(far.fault->text, testing::HasSubstr("The withdrawal from line 11 takes joint " + std::to_string(of + 1)));
}

TEST(SidePlannerTest, BadCallsAreNamed) {
  const Planned p;
  for (const double back_mm : {0.0, -1.0, std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity()}) {
    EXPECT_THROW(SidePlanner(p.request, p.motion, back_mm), std::invalid_argument) << back_mm;
  }
  Motion broken = p.motion;
  broken.faults.emplace_back();
  EXPECT_THROW(SidePlanner(p.request, broken, 10.0), std::invalid_argument);
  Motion bare = p.motion;
  bare.R_ST_per_line.pop_back();
  EXPECT_THROW(SidePlanner(p.request, bare, 10.0), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::kinematics
