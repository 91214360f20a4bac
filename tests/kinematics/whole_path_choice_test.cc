#include "kinematics/whole_path_choice.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "kinematics/external_axes.h"
#include "tests/kinematics/leaned_arc.h"

namespace aircut::kinematics {
namespace {

double SmallestRoom(const Motion& motion) {
  double room = std::numeric_limits<double>::infinity();
  for (const JointMargin& margin : motion.joint_margins) room = std::fmin(room, margin.margin_rad);
  return room;
}

// A ring with the tool leaned 45 degrees: every fixed direction breaks somewhere,
// the free spin follows; its spin keeps the bound per mm and the tip its path.
TEST(WholePathChoiceTest, FreeSpinFollowsWhereNoFixedOneDoes) {
  std::vector<JointSpec> joints = InventedArm::Joints();
  joints[4].lower_rad = RadFromDeg(-100);
  joints[4].upper_rad = RadFromDeg(100);
  joints[3].lower_rad = RadFromDeg(-165);
  joints[3].upper_rad = RadFromDeg(165);
  const ArmModel arm = InventedArm::Make(joints);
  const Pose X_FT = [] {
    Pose X = Pose::Identity();
    X.translate(Eigen::Vector3d(150, 0, 130));
    X.rotate(Eigen::AngleAxisd(-kPi / 2, Eigen::Vector3d::UnitY()));
    return Pose(X * Eigen::Translation3d(0, 0, -40));
  }();
  PlanRequest request = FreeRequest(arm, LeanedArc(240, 2.0 * kPi / 240, 1.0));
  request.X_FT.assign(request.path.size(), X_FT);
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete()) << (motion.splits.empty() ? "" : motion.splits[0].text);
  ASSERT_EQ(motion.spin_per_line.size(), request.path.size());
  for (std::size_t i = 1; i < request.path.size(); ++i) {
    const double travel_mm = (request.path[i].p_ST - request.path[i - 1].p_ST).norm();
    EXPECT_LE(std::abs(motion.spin_per_line[i] - motion.spin_per_line[i - 1]),
              1.6 * RadFromDeg(1.0) * travel_mm + 1e-9);
  }
  int followed = 0;
  for (int k = 0; k < 12; ++k) {
    PlanRequest fixed = request;
    fixed.spin = SpinRule::kFixed;
    fixed.toward_S = {std::cos(RadFromDeg(30.0 * k)), std::sin(RadFromDeg(30.0 * k)), 0};
    followed += PlanMotion(fixed).faults.empty() ? 1 : 0;
  }
  EXPECT_EQ(followed, 0);
  EXPECT_GT(SmallestRoom(motion), 0.0);
}

// The clearance callback bars what it refuses: here every posture with joint 1 on
// one side of where the free choice went.
TEST(WholePathChoiceTest, RefusedStationsAreChosenAgain) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest request = FreeRequest(arm, LeanedArc(30, 0.02, 0.3));
  const Motion first = PlanMotion(request);
  ASSERT_TRUE(first.complete());
  const double q6_rad = first.tracks[0].q[MomentOfLine(first.tracks[0], 20)][5];
  request.clearance_mm = [q6_rad](const JointVector& q, std::size_t) {
    return std::abs(q[5] - q6_rad) < RadFromDeg(8) ? -1.0 : 1.0;
  };
  const Motion second = PlanMotion(request);
  ASSERT_TRUE(second.complete());
  EXPECT_GE(std::abs(second.tracks[0].q[MomentOfLine(second.tracks[0], 20)][5] - q6_rad), RadFromDeg(4));
}

// A board that runs out of reach: the advice names a line before the end and a
// move of the work that brings it back.
TEST(SplitAdviceTest, NamesTheLineAndTheSmallestMoveThatHelps) {
  const ArmModel arm = InventedArm::Make();
  ToolPath path{Line(1, {0, 0, 0}, 0, MoveKind::kRapid)};
  for (int i = 1; i <= 100; ++i) path.push_back(Line(i + 1, {10.0 * i, 0, 0}, 20.0));
  PlanRequest request = FreeRequest(arm, path);
  request.X_BS.translation().x() = 2200;
  const Motion motion = PlanMotion(request);
  ASSERT_FALSE(motion.complete());
  ASSERT_EQ(motion.splits.size(), 1u);
  const SplitAdvice& advice = motion.splits[0];
  EXPECT_EQ(advice.first_line, 1);
  EXPECT_EQ(advice.last_line, 101);
  EXPECT_GT(advice.split_line, 2);
  EXPECT_LT(advice.split_line, 101);
  PlanRequest part = request;
  part.path.resize(static_cast<std::size_t>(advice.split_line));
  part.X_FT.resize(part.path.size());
  EXPECT_TRUE(PlanMotion(part).complete()) << advice.split_line;
  part.path.push_back(request.path[part.path.size()]);
  part.X_FT.push_back(request.X_FT.front());
  EXPECT_FALSE(PlanMotion(part).complete()) << "one line more is followed as well";
  EXPECT_NE(advice.text.find("smallest move of the work that helps"), std::string::npos) << advice.text;
}

// A repeated pose, a turn of 180 degrees in a cut: a finding or a motion, no crash.
TEST(WholePathChoiceTest, StrangePathsEndInAFindingOrAMotion) {
  const ArmModel arm = InventedArm::Make();
  ToolPath repeated = LeanedArc(5, 0.02, 0.2);
  repeated.insert(repeated.begin() + 3, repeated[2]);
  EXPECT_TRUE(PlanMotion(FreeRequest(arm, repeated)).complete());
  ToolPath flipped = LeanedArc(5, 0.02, 0.0);
  for (std::size_t i = 3; i < flipped.size(); ++i) flipped[i].axis_S = -Eigen::Vector3d::UnitZ();
  const Motion motion = PlanMotion(FreeRequest(arm, flipped));
  EXPECT_TRUE(motion.complete() || !motion.faults.empty());
  const ToolPath one{Line(1, {0, 0, 0}, 20)};
  EXPECT_TRUE(PlanMotion(FreeRequest(arm, one)).complete());
}

// The work lies 1.6 m aside, out of reach from the middle of the track: the arm
// rides there, stands still on the whole path, and the tip goes where it should.
TEST(WholePathChoiceTest, PlaceOnATrackIsChosenWhereTheWorkIsOutOfReach) {
  const ArmModel arm = WithTrack(InventedArm::Make());
  PlanRequest request = OnTrack(arm, LeanedArc(40, 0.05, 0.3), 9);
  request.X_BS.translation() += Eigen::Vector3d(300, 1600, 0);
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete()) << (motion.faults.empty() ? "" : motion.faults[0].text);
  const MotionTrack& track = motion.tracks[0];
  const double place_mm = track.q[MomentOfLine(track, 0)][6];
  EXPECT_GT(place_mm, 400.0);
  for (std::size_t i = 0; i < track.size(); ++i) {
    if (track.phase[i] != Phase::kCut) continue;
    EXPECT_EQ(track.q[i][6], place_mm);
  }
  for (std::size_t line = 1; line < request.path.size(); ++line) {
    const Pose& X_ST = track.X_ST[MomentOfLine(track, static_cast<int>(line))];
    EXPECT_LT((X_ST.translation() - request.path[line].p_ST).norm(), 1e-6);
  }
  request.external_free = {false};
  EXPECT_FALSE(PlanMotion(request).complete());
}

// A fixed spin has no choice but the place: the lattice has one spin.
TEST(WholePathChoiceTest, PlaceIsChosenUnderAFixedSpinToo) {
  const ArmModel arm = WithTrack(InventedArm::Make());
  PlanRequest request = OnTrack(arm, LeanedArc(40, 0.05, 0.3), 9);
  request.spin = SpinRule::kFixed;
  request.X_BS.translation() += Eigen::Vector3d(300, 1600, 0);
  const Motion motion = PlanMotion(request);
  ASSERT_TRUE(motion.complete()) << (motion.faults.empty() ? "" : motion.faults[0].text);
  EXPECT_TRUE(motion.spin_per_line.empty());
}

KeptChoice FirstLines(const Motion& motion, const std::ptrdiff_t count) {
  KeptChoice kept;
  kept.q.assign(motion.q_per_line.begin(), motion.q_per_line.begin() + count);
  kept.posture.assign(motion.posture_per_line.begin(), motion.posture_per_line.begin() + count);
  if (!motion.spin_per_line.empty()) {
    kept.spin_rad.assign(motion.spin_per_line.begin(), motion.spin_per_line.begin() + count);
  }
  return kept;
}

// Where the path is edited behind them, the kept lines stay to the last bit, and
// the motion up to where the new path makes the controller brake otherwise.
void ExpectKept(const PlanRequest& request, const PlanRequest& edited, const std::size_t kept_lines) {
  const Motion before = PlanMotion(request);
  PlanRequest again = edited;
  again.kept = FirstLines(before, static_cast<std::ptrdiff_t>(kept_lines));
  const Motion after = PlanMotion(again);
  ASSERT_TRUE(before.complete() && after.complete());
  for (std::size_t i = 0; i < kept_lines; ++i) {
    EXPECT_EQ(after.q_per_line[i], before.q_per_line[i]) << i;
    EXPECT_EQ(after.R_ST_per_line[i], before.R_ST_per_line[i]) << i;
  }
  const MotionTrack &a = before.tracks[0], &b = after.tracks[0];
  std::size_t same = 0;
  while (same < a.size() && same < b.size() && a.time_s[same] == b.time_s[same] && a.q[same] == b.q[same]) ++same;
  ASSERT_LT(same, a.size());
  EXPECT_GE(a.path_index[same], static_cast<int>(kept_lines) - 10);
}

TEST(WholePathChoiceTest, KeptLinesStayAndTheRestGoesOnFromThem) {
  const ArmModel arm = InventedArm::Make();
  const PlanRequest request = FreeRequest(arm, LeanedArc(60, 0.02, 0.3));
  PlanRequest edited = request;
  for (std::size_t i = 45; i < edited.path.size(); ++i) {
    edited.path[i].axis_S = (edited.path[i].axis_S + Eigen::Vector3d(0.02 * (i - 44.0), 0, 0)).normalized();
  }
  ExpectKept(request, edited, 40);
  const Motion before = PlanMotion(request);
  PlanRequest again = edited;
  again.kept = FirstLines(before, 40);
  const Motion after = PlanMotion(again);
  for (std::size_t i = 40; i < edited.path.size(); ++i) {
    const double travel_mm = (edited.path[i].p_ST - edited.path[i - 1].p_ST).norm();
    EXPECT_LE(std::abs(after.spin_per_line[i] - after.spin_per_line[i - 1]), 1.6 * RadFromDeg(1.0) * travel_mm + 1e-9);
  }
}

TEST(WholePathChoiceTest, KeptLinesStayUnderAFixedSpinAndOnATrack) {
  const ArmModel arm = InventedArm::Make();
  PlanRequest fixed = Request(arm, LeanedArc(60, 0.02, 0.3)), edited = fixed;
  for (std::size_t i = 45; i < edited.path.size(); ++i) edited.path[i].p_ST.z() += 0.1 * (i - 44.0);
  ExpectKept(fixed, edited, 40);
  const ArmModel on_track = WithTrack(arm);
  PlanRequest track = OnTrack(on_track, LeanedArc(60, 0.02, 0.3), 3), track_edited = track;
  for (std::size_t i = 45; i < track_edited.path.size(); ++i) track_edited.path[i].p_ST.z() += 0.1 * (i - 44.0);
  ExpectKept(track, track_edited, 40);
}

}  // namespace
}  // namespace aircut::kinematics
