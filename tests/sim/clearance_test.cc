#include "sim/clearance.h"

#include <cmath>
#include <limits>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/external_axes.h"
#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "tests/sim/clearance_scene.h"

namespace aircut::sim {
namespace {

using namespace clearance_scene;
using kinematics::ExternalAxis;
using kinematics::kPi;

// Oracle: dense sampling between the moments, which can miss the smallest
// distance only from above; the promise must hold against it.
TEST(ClearanceTest, BoundHoldsAgainstDenseSampling) {
  for (const int seed : {1, 2, 3}) {
    const Scene scene = Workshop(12, 0.15, seed);
    ClearanceRequest request = scene.Request();
    request.enough_mm = 1e6;
    const std::vector<PairClearance> found = SmallestClearances(request).pairs;
    ASSERT_EQ(found.size(), scene.pairs.size());
    for (std::size_t p = 0; p < found.size(); ++p) {
      const double sampled = scene.Sampled(scene.pairs[p], 200);
      const std::string where = "seed " + std::to_string(seed) + " pair " + std::to_string(p);
      EXPECT_GE(sampled, found[p].clearance_mm - found[p].bound_mm) << where;
      if (found[p].clearance_mm < 0) {
        EXPECT_LT(sampled, 0.5) << where;
        continue;
      }
      // The value was measured at some place in time, so it is not below the
      // truth; the samples are at most half a sample step away from any place.
      EXPECT_LE(found[p].clearance_mm, sampled + request.resolution_mm) << where;
      EXPECT_LE(found[p].bound_mm, request.resolution_mm + 2 * CollisionWorld::kDistanceBound_mm)
          << where;
    }
  }
}

ExternalAxis Axis(kinematics::ExternalSide side, kinematics::ExternalKind kind, const Vector3d& p_B,
                  const Vector3d& direction_B) {
  return {"", side, kind, p_B, direction_B.normalized()};
}

// The workshop with its arm on a track and table and ball carried by a turntable.
Scene MovingWorkshop(int moments, double step_rad, int seed) {
  Scene scene = Workshop(moments, step_rad, seed);
  scene.arm = scene.arm.WithExternals(
      {Axis(kinematics::ExternalSide::kTool, kinematics::ExternalKind::kSlide, Vector3d::Zero(), {1, 4, 0}),
       Axis(kinematics::ExternalSide::kWork, kinematics::ExternalKind::kTurn, {1100, 0, 0}, {0, 1, 9})},
      Joints(2));
  std::mt19937_64 rng(seed + 100);
  std::uniform_real_distribution<double> step(-step_rad, step_rad);
  double slide_mm = 50.0, turn_rad = 0.2;
  for (JointVector& q : scene.track.q) {
    JointVector all(8);
    all << q, slide_mm, turn_rad;
    q = all;
    slide_mm += 400.0 * step(rng);
    turn_rad += step(rng);
  }
  for (const std::size_t body : {std::size_t{3}, std::size_t{5}})
    scene.mounts[body].on = BodyMount::On::kWork;
  scene.pairs.push_back({3, 4});  // what the table carries against floor and stand, in either order
  scene.pairs.push_back({4, 5});
  scene.pairs.push_back({6, 3});
  scene.X_WB =
      Pose(Eigen::Translation3d(30, -40, 20) * Eigen::AngleAxisd(0.3, Vector3d(1, 0, 5).normalized()));
  return scene;
}

// Oracle: dense sampling, as above, with joints on both sides that the arm has not.
TEST(ClearanceTest, BoundHoldsWithTrackAndTurntable) {
  int touching = 0, apart = 0;
  for (const int seed : {1, 2, 3}) {
    const Scene scene = MovingWorkshop(10, 0.12, seed);
    ClearanceRequest request = scene.Request();
    request.enough_mm = 1e6;
    const std::vector<PairClearance> found = SmallestClearances(request).pairs;
    for (std::size_t p = 0; p < found.size(); ++p) {
      const double sampled = scene.Sampled(scene.pairs[p], 200);
      const std::string where = "seed " + std::to_string(seed) + " pair " + std::to_string(p);
      EXPECT_GE(sampled, found[p].clearance_mm - found[p].bound_mm) << where;
      ++(found[p].clearance_mm < 0 ? touching : apart);
      if (found[p].clearance_mm < 0) {
        EXPECT_LT(sampled, 0.5) << where;
        continue;
      }
      EXPECT_LE(found[p].clearance_mm, sampled + request.resolution_mm) << where;
      EXPECT_LE(found[p].bound_mm, request.resolution_mm + 2 * CollisionWorld::kDistanceBound_mm) << where;
    }
  }
  EXPECT_GT(apart, 10);
  EXPECT_GT(touching, 0);
}

// Closed form: a pin of radius 20 stands 500 mm off the table's axis and is turned by
// 60 deg in one step, towards a rod of radius 30 in the room on the same circle 90 deg
// away: then both are 2 * 500 * sin(15 deg) apart. On past the rod they touch at the
// angle where the chord is 50.
TEST(ClearanceTest, ATableTurnsTheWorkIntoWhatStandsExactlyWhereTheCircleSays) {
  const ArmModel arm =
      OneAxis().WithExternals({Axis(kinematics::ExternalSide::kWork, kinematics::ExternalKind::kTurn,
                                    {2000, 0, 0}, Vector3d::UnitZ())},
                              Joints(1));
  const auto rod = [](double radius) { return CylinderShape{{0, 0, 0}, {0, 0, 400}, radius}; };
  BodyMount on_table;
  on_table.on = BodyMount::On::kWork;
  on_table.X_MA = Pose(Eigen::Translation3d(2500, 0, 0));
  const auto turned_to = [&](double end_rad) {
    Scene scene{arm,
                TrackThrough({Angles({0.0, 0.0}), Angles({0.0, end_rad})}),
                CollisionWorld({{"pin", {rod(20)}}, {"rod", {rod(30)}}}),
                {on_table, InWorld(2000, 500, 0)},
                {{0, 1}}};
    ClearanceRequest request = scene.Request();
    request.enough_mm = 1e6;
    return SmallestClearances(request).pairs.front();
  };
  const PairClearance short_of = turned_to(kPi / 3);
  EXPECT_NEAR(short_of.clearance_mm, 1000 * std::sin(kPi / 12) - 50, 0.02);
  EXPECT_LE(short_of.bound_mm, 0.07);
  const double touch_rad = kPi / 2 - 2 * std::asin(50.0 / 1000.0);
  const PairClearance before = turned_to(touch_rad - 4e-4);  // 0.2 mm of the circle
  EXPECT_GT(before.clearance_mm - before.bound_mm, 0.0);
  EXPECT_LE(turned_to(touch_rad + 4e-4).clearance_mm, 0.0);
  // Where they are nearest in the work: the pin is where it always was.
  const PairClearance there = turned_to(kPi / 3);
  const Vector3d on_pin = there.work_motion_W.inverse() * there.p_WA;
  EXPECT_NEAR((on_pin - Vector3d(2500, 0, on_pin.z())).norm(), 20.0, 1e-3);
}

// Oracle: the distance at the instant and place reported.
TEST(ClearanceTest, WitnessesAndTimeBelongToTheDistance) {
  const Scene scene = Workshop(30, 0.05, 8);
  ClearanceRequest request = scene.Request();
  request.enough_mm = 1e6;
  for (const PairClearance& found : SmallestClearances(request).pairs) {
    const auto i = std::min(static_cast<std::size_t>(found.time_s / 0.5), scene.track.size() - 2);
    const double f = found.time_s / 0.5 - static_cast<double>(i);
    const JointVector q = scene.track.q[i] + f * (scene.track.q[i + 1] - scene.track.q[i]);
    const PairDistance there = scene.world.Distance(found.a, scene.PoseOf(found.a, q), found.b,
                                                    scene.PoseOf(found.b, q));
    if (found.clearance_mm <= 0) continue;
    EXPECT_NEAR(there.distance_mm, found.clearance_mm, 1e-6);
    EXPECT_NEAR((found.p_WA - found.p_WB).norm(), found.clearance_mm, 1e-6);
    // The nearest points of these round and tilted bodies are single ones.
    EXPECT_LT((found.p_WA - there.p_WA).norm(), 0.1) << found.a << " " << found.b;
    EXPECT_LT((found.p_WB - there.p_WB).norm(), 0.1) << found.a << " " << found.b;
  }
}

// A rod swings from one side of a 1 mm plate to the other in one step: both
// moments are far from it. Oracle: the rod's own circle meets the plate.
TEST(ClearanceTest, ThinPlateBetweenTwoMomentsIsFound) {
  Scene scene{OneAxis(), TrackThrough({Angles({-0.4}), Angles({0.5})}),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}},
                              {"plate", {BoxShape{{600, -0.5, -100}, {800, 0.5, 100}}}}}),
              {OnLink(1), InWorld(0, 0, 0)}, {{0, 1}}};
  const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
  EXPECT_LT(found.clearance_mm, 0);
  EXPECT_GT(found.time_s, 0.0);
  EXPECT_LT(found.time_s, 0.5);
  EXPECT_EQ(found.line, 1);
}

// Just beside: the same swing above the plate by 2 mm. Oracle: closed form,
// plate top to rod.
TEST(ClearanceTest, SwingJustAboveThePlateIsTwoMillimetres) {
  Scene scene{OneAxis(), TrackThrough({Angles({-0.4}), Angles({0.5})}),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}},
                              {"plate", {BoxShape{{600, -0.5, -100}, {800, 0.5, -7}}}}}),
              {OnLink(1), InWorld(0, 0, 0)}, {{0, 1}}};
  const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
  EXPECT_NEAR(found.clearance_mm, 2.0, 0.05);
  EXPECT_GE(2.0, found.clearance_mm - found.bound_mm);
  EXPECT_LE(found.bound_mm, 0.05 + 2 * CollisionWorld::kDistanceBound_mm);
}

// Oracle: closed form of a turning point. The tip of the rod passes a small
// ball placed outside its circle at an angle inside the step.
TEST(ClearanceTest, NearestPlaceInsideAStepMatchesTheCircle) {
  const double angle = 0.123, gap_mm = 3.0, tip_mm = 1000.0;
  const Vector3d outward(std::cos(angle), std::sin(angle), 0);
  const Vector3d p = (tip_mm + 5 + gap_mm + 4) * outward;
  Scene scene{OneAxis(), TrackThrough({Angles({-0.3}), Angles({0.4})}),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {tip_mm, 0, 0}, 5}}},
                              {"knob", {CapsuleShape{p, p, 4}}}}),
              {OnLink(1), InWorld(0, 0, 0)}, {{0, 1}}};
  ClearanceRequest request = scene.Request();
  request.resolution_mm = 0.001;
  const PairClearance found = SmallestClearances(request).pairs[0];
  EXPECT_NEAR(found.clearance_mm, gap_mm, 0.002);
  EXPECT_GE(gap_mm, found.clearance_mm - found.bound_mm);
  EXPECT_NEAR(found.time_s, 0.5 * (angle + 0.3) / 0.7, 0.01);
}

// The tip bows out between two moments: a knob that the straight line between
// them would clear by 60 mm comes within 2, although another is 3 away at a
// moment. Oracle: closed form of the circle.
TEST(ClearanceTest, BowBetweenMomentsIsNotCutOff) {
  const auto knob = [](double angle, double gap_mm) {
    const Vector3d p = (1000 + 5 + gap_mm + 4) * Vector3d(std::cos(angle), std::sin(angle), 0);
    return CapsuleShape{p, p, 4};
  };
  Scene scene{OneAxis(), TrackThrough({Angles({-0.3}), Angles({0.4})}),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {1000, 0, 0}, 5}}},
                              {"knobs", {knob(-0.3, 3), knob(0.05, 2)}}}),
              {OnLink(1), InWorld(0, 0, 0)}, {{0, 1}}};
  const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
  EXPECT_NEAR(found.clearance_mm, 2.0, 0.06);
  EXPECT_GE(2.0, found.clearance_mm - found.bound_mm);
}

// Metamorphic: moving arm and world together by one rigid motion.
TEST(ClearanceTest, CommonMotionOfEverythingChangesNothing) {
  const Scene scene = Workshop(20, 0.08, 5);
  Scene moved = Workshop(20, 0.08, 5);
  std::mt19937_64 rng(6);
  const Pose X = RandomPose(rng, 3000);
  moved.X_WB = X;
  for (BodyMount& mount : moved.mounts) {
    if (mount.on == BodyMount::On::kWorld) mount.X_MA = X * mount.X_MA;
  }
  const auto before = SmallestClearances(scene.Request()).pairs, after = SmallestClearances(moved.Request()).pairs;
  for (std::size_t p = 0; p < before.size(); ++p) {
    if (before[p].clearance_mm <= 0 || before[p].clearance_mm > 200) continue;
    EXPECT_NEAR(before[p].clearance_mm, after[p].clearance_mm, 0.05) << "pair " << p;
  }
}

// Metamorphic: the same motion cut into many more moments, enough for several
// blocks of them, is the same motion.
TEST(ClearanceTest, FinerMomentsOfTheSameMotionChangeNothing) {
  const Scene coarse = Workshop(6, 0.15, 9);
  Scene fine = Workshop(6, 0.15, 9);
  std::vector<JointVector> q;
  const int parts = 7000;
  for (std::size_t i = 0; i + 1 < coarse.track.size(); ++i) {
    for (int k = 0; k < parts; ++k) {
      const JointVector step = coarse.track.q[i + 1] - coarse.track.q[i];
      q.push_back(coarse.track.q[i] + static_cast<double>(k) / parts * step);
    }
  }
  q.push_back(coarse.track.q.back());
  fine.track = TrackThrough(q);
  ClearanceRequest few_request = coarse.Request(), many_request = fine.Request();
  few_request.enough_mm = many_request.enough_mm = 1e6;
  const auto few = SmallestClearances(few_request).pairs, many = SmallestClearances(many_request).pairs;
  int apart = 0;
  for (std::size_t p = 0; p < few.size(); ++p) {
    EXPECT_EQ(few[p].clearance_mm > 0, many[p].clearance_mm > 0) << "pair " << p;
    if (few[p].clearance_mm <= 0) continue;
    EXPECT_NEAR(few[p].clearance_mm, many[p].clearance_mm, 0.06) << "pair " << p;
    ++apart;
  }
  EXPECT_GT(apart, 3);
}

TEST(ClearanceTest, ThreadCountChangesNoBit) {
  const Scene scene = Workshop(200, 0.03, 7);
  ClearanceRequest request = scene.Request();
  request.threads = 1;
  const auto one = SmallestClearances(request).pairs;
  for (const int threads : {2, 3, 8}) {
    request.threads = threads;
    const auto many = SmallestClearances(request).pairs;
    for (std::size_t p = 0; p < one.size(); ++p) {
      EXPECT_EQ(one[p].clearance_mm, many[p].clearance_mm);
      EXPECT_EQ(one[p].bound_mm, many[p].bound_mm);
      EXPECT_EQ(one[p].time_s, many[p].time_s);
      EXPECT_EQ(one[p].line, many[p].line);
      EXPECT_EQ(one[p].p_WA, many[p].p_WA);
      EXPECT_EQ(one[p].p_WB, many[p].p_WB);
    }
  }
}

// Definition: above "enough" nothing need be told apart, yet the promise of
// the bound stands: at least `enough` less the bound of a distance.
TEST(ClearanceTest, FarPairPromisesEnough) {
  Scene scene{OneAxis(), TrackThrough({Angles({-0.4}), Angles({0.5}), Angles({0.2})}),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}},
                              {"far", {Block(10, 10, 10)}}}),
              {OnLink(1), InWorld(-3000, 0, 0)}, {{0, 1}}};
  const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
  EXPECT_GE(found.clearance_mm, 200.0);
  EXPECT_GE(found.clearance_mm - found.bound_mm, 200.0 - CollisionWorld::kDistanceBound_mm - 0.051);
}

// A cutter's body is there only while that cutter is in the spindle.
TEST(ClearanceTest, CutterCountsOnlyWhileInTheSpindle) {
  Scene scene{OneAxis(),
              TrackThrough({Angles({-0.4}), Angles({0.4}), Angles({0.4}), Angles({-0.4})}),
              CollisionWorld({{"long cutter", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}},
                              {"post", {Block(20, 20, 20)}}}),
              {OnLink(1, 2), InWorld(800, 0, 0)}, {{0, 1}}};
  ClearanceRequest request = scene.Request();
  request.tool_per_moment = {1, 1, 1, 1};
  const PairClearance never = SmallestClearances(request).pairs[0];
  EXPECT_GE(never.clearance_mm, request.enough_mm);
  request.tool_per_moment = {1, 1, 2, 2};
  const PairClearance later = SmallestClearances(request).pairs[0];
  EXPECT_LT(later.clearance_mm, 0);
  EXPECT_GT(later.time_s, 1.0);
}

TEST(ClearanceTest, BodiesThatDoNotMoveApartAreMeasuredOnce) {
  Scene scene{SixAxes(), TrackThrough({Angles({0, 0, 0, 0, 0, 0}), Angles({1, 1, 0, 0, 1, 0})}),
              CollisionWorld({{"a", {Block(10, 10, 10)}}, {"b", {Block(10, 10, 10)}}}),
              {OnLink(3), OnLink(3)}, {{0, 1}}};
  scene.mounts[1].X_MA = Pose(Eigen::Translation3d(17, 0, 0));
  const PairClearance found = SmallestClearances(scene.Request()).pairs[0];
  EXPECT_NEAR(found.clearance_mm, 7, 1e-6);
  EXPECT_EQ(found.bound_mm, CollisionWorld::kDistanceBound_mm);
}

TEST(ClearanceTest, SingleMomentIsMeasured) {
  Scene scene{OneAxis(), TrackThrough({Angles({0.0})}),
              CollisionWorld({{"rod", {CapsuleShape{{100, 0, 0}, {900, 0, 0}, 5}}},
                              {"post", {Block(20, 20, 20)}}}),
              {OnLink(1), InWorld(800, 40, 0)}, {{0, 1}}};
  EXPECT_NEAR(SmallestClearances(scene.Request()).pairs[0].clearance_mm, 25, 1e-6);
}

TEST(ClearanceTest, ContradictingRequestThrowsNamingTheField) {
  const Scene scene = Workshop(3, 0.1, 1);
  const auto with = [&](auto change) {
    ClearanceRequest request = scene.Request();
    change(request);
    return [request] { SmallestClearances(request); };
  };
  const auto says = [](const char* text) {
    return testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr(text));
  };
  EXPECT_THAT(with([](auto& r) { r.tool_per_moment.pop_back(); }), says("tool_per_moment"));
  EXPECT_THAT(with([](auto& r) { r.mounts.pop_back(); }), says("mounts"));
  EXPECT_THAT(with([](auto& r) { r.pairs = {{0, 99}}; }), says("99"));
  EXPECT_THAT(with([](auto& r) { r.pairs = {{1, 1}}; }), says("itself"));
  EXPECT_THAT(with([](auto& r) { r.mounts[0].link = 7; }), says("link = 7"));
  EXPECT_THAT(with([](auto& r) { r.mounts[4] = OnLink(2); }), says("half space"));
  EXPECT_THAT(with([](auto& r) { r.resolution_mm = 0; }), says("resolution_mm"));
  EXPECT_THAT(with([](auto& r) { r.track = nullptr; }), says("track"));
}

}  // namespace
}  // namespace aircut::sim
