#include "sim/collision_world.h"

#include <cmath>
#include <limits>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::kPi;
using kinematics::Pose;

// Apart, witnesses and separating plane agree far better than the promise.
constexpr double kApart_mm = 1e-6;

Pose At(double x, double y, double z) { return Pose(Eigen::Translation3d(x, y, z)); }

Pose Turned(const Pose& X, double angle_rad, const Vector3d& axis) {
  return X * Eigen::AngleAxisd(angle_rad, axis.normalized());
}

BoxShape Box(double x, double y, double z) {
  return {Vector3d(-x / 2, -y / 2, -z / 2), Vector3d(x / 2, y / 2, z / 2)};
}

CapsuleShape Capsule(double radius_mm, double height_mm) {
  return {Vector3d(0, 0, -height_mm / 2), Vector3d(0, 0, height_mm / 2), radius_mm};
}

MeshShape MeshOf(const Mesh& mesh) { return {std::make_shared<const Mesh>(mesh)}; }

PairDistance Between(const Shape& a, const Pose& X_WA, const Shape& b, const Pose& X_WB) {
  const CollisionWorld world({{"a", {a}}, {"b", {b}}});
  return world.Distance(0, X_WA, 1, X_WB);
}

// GEO-11: box to box, closed form sqrt(21^2 + 14^2 + 3^2) with witnesses.
TEST(CollisionWorldTest, BoxesApartAtCornersGivePublishedDistanceAndWitnesses) {
  const PairDistance d = Between(Box(6, 10, 2), At(0, 0, 0), Box(2, 2, 2), At(25, 20, 5));
  EXPECT_NEAR(d.distance_mm, std::sqrt(21.0 * 21 + 14 * 14 + 3 * 3), kApart_mm);
  EXPECT_LT((d.p_WA - Vector3d(3, 5, 1)).norm(), 1e-4);
  EXPECT_LT((d.p_WB - Vector3d(24, 19, 4)).norm(), 1e-4);
}

// GEO-12: turned boxes, 4 - sqrt 2, the same after one common motion of both.
TEST(CollisionWorldTest, TurnedBoxesGivePublishedDistanceInAnyCommonPose) {
  const Pose X_WA = Turned(At(-2, 1, 0.5), kPi / 4, Vector3d::UnitZ());
  const Pose X_WB = Turned(At(2, 0.5, 0.5), kPi / 4, Vector3d::UnitY());
  std::mt19937_64 rng(12);
  for (int i = 0; i < 20; ++i) {
    const Pose X = i == 0 ? Pose::Identity() : RandomPose(rng, 100.0);
    const PairDistance d = Between(Box(1, 1, 1), X * X_WA, Box(1, 1, 1), X * X_WB);
    EXPECT_NEAR(d.distance_mm, 4 - std::sqrt(2.0), kApart_mm);
  }
}

// GEO-13: box above a box turned 45 degrees about (1, 1, 1), published to 1e-8.
TEST(CollisionWorldTest, BoxTurnedAboutItsDiagonalGivesPublishedDistance) {
  const Pose X_WB = Turned(At(0, 0, 10), kPi / 4, Vector3d(1, 1, 1));
  const PairDistance d = Between(Box(6, 10, 2), At(0, 0, 0), Box(2, 2, 2), X_WB);
  EXPECT_NEAR(d.distance_mm, 7.37876556, 1e-6 * 7.37876556);
  EXPECT_LT((d.p_WA - Vector3d(0.60947571, 0.01175873, 1)).norm(), 1e-4);
}

// GEO-14: unit cubes pushed into each other along x.
TEST(CollisionWorldTest, OverlapOfCubesIsSignedPenetration) {
  for (const auto& [x, expected] : {std::pair(2.0, 1.0), {1.01, 0.01}, {0.99, -0.01}, {0.0, -1.0}}) {
    const PairDistance d = Between(Box(1, 1, 1), At(0, 0, 0), Box(1, 1, 1), At(x, 0, 0));
    EXPECT_NEAR(d.distance_mm, expected, 1e-5) << "x " << x;
  }
}

// GEO-15: capsule (radius 2, height 4) and box 1 x 2 x 4.
TEST(CollisionWorldTest, CapsuleAndBoxGivePublishedDistances) {
  const auto gap = [](const Pose& X_WC) {
    return Between(Capsule(2, 4), X_WC, Box(1, 2, 4), At(0, 0, 0));
  };
  EXPECT_NEAR(gap(At(3, 0, 0)).distance_mm, 0.5, kApart_mm);
  EXPECT_NEAR(gap(At(0, 0, 8)).distance_mm, 2.0, kApart_mm);
  EXPECT_NEAR(gap(Turned(At(-10, 0, 0), kPi / 2, Vector3d::UnitY())).distance_mm, 5.5, kApart_mm);
  const PairDistance d = gap(Turned(At(-10, 0.8, 1.5), kPi / 2, Vector3d::UnitY()));
  EXPECT_NEAR(d.distance_mm, 5.5, kApart_mm);
  EXPECT_LT((d.p_WA - Vector3d(-6, 0.8, 1.5)).norm(), 1e-4);
  EXPECT_LT((d.p_WB - Vector3d(-0.5, 0.8, 1.5)).norm(), 1e-4);
}

// GEO-16: capsules of radius 5, height 10; published relative tolerance 1e-8.
TEST(CollisionWorldTest, CapsulesGivePublishedDistances) {
  const auto gap = [](const Pose& X_WB) {
    return Between(Capsule(5, 10), At(0, 0, 0), Capsule(5, 10), X_WB).distance_mm;
  };
  EXPECT_NEAR(gap(At(20.1, 0, 0)), 10.1, 1e-8 * 10.1);
  EXPECT_NEAR(gap(At(0, 0, 20.1)), 0.1, 1e-8);
  EXPECT_NEAR(gap(Turned(At(0, 0, 25.1), kPi / 2, Vector3d::UnitY())), 10.1, 1e-8 * 10.1);
}

// GEO-10: distance of a point (a tiny ball) from a box and a flat-ended
// cylinder, closed forms: corner distance, and negative inside.
TEST(CollisionWorldTest, TinyBallMeasuresBoxAndCylinderLikeAPoint) {
  const double tiny_mm = 1e-9;
  const CapsuleShape ball{Vector3d::Zero(), Vector3d::Zero(), tiny_mm};
  const BoxShape box = Box(2, 4, 6);
  const CylinderShape cylinder{Vector3d(0, 0, -3), Vector3d(0, 0, 3), 2.0};
  EXPECT_NEAR(Between(ball, At(3, 4, 1), box, At(0, 0, 0)).distance_mm, std::sqrt(8.0), 1e-7);
  EXPECT_NEAR(Between(ball, At(0.5, 0, 0), box, At(0, 0, 0)).distance_mm, -0.5, 1e-7);
  EXPECT_NEAR(Between(ball, At(5, 0, 6), cylinder, At(0, 0, 0)).distance_mm, std::sqrt(18.0), 1e-6);
  // The depth of an overlap is an estimate where a face is round.
  EXPECT_NEAR(Between(ball, At(0, 0, 1), cylinder, At(0, 0, 0)).distance_mm, -2.0, 0.05);
}

// Oracle: closed form of the plane, every shape standing over it.
TEST(CollisionWorldTest, HalfSpaceMeasuresLowestPoint) {
  const HalfSpaceShape floor{-7.0};
  EXPECT_NEAR(Between(Capsule(2, 4), At(5, 5, 0), floor, At(0, 0, 0)).distance_mm, 3, kApart_mm);
  EXPECT_NEAR(Between(Box(1, 1, 1), Turned(At(0, 0, 0), kPi / 4, Vector3d::UnitX()), floor,
                      At(0, 0, 0)).distance_mm, 7 - std::sqrt(0.5), kApart_mm);
  const CylinderShape cylinder{Vector3d(0, 0, 0), Vector3d(10, 0, 0), 3};
  EXPECT_NEAR(Between(cylinder, At(0, 0, 0), floor, At(0, 0, 0)).distance_mm, 4, kApart_mm);
  EXPECT_NEAR(Between(floor, At(0, 0, 0), cylinder, At(0, 0, -6)).distance_mm, -2, kApart_mm);
  const MeshShape ball = MeshOf(IcosphereMesh(10, 2));
  double lowest = 0;
  for (const Vector3d& v : ball.mesh->vertices) lowest = std::min(lowest, v.z());
  EXPECT_NEAR(Between(ball, At(1, 2, 9), floor, At(0, 0, 0)).distance_mm, 16 + lowest, kApart_mm);
}

// Oracle: a box as twelve triangles is the same solid.
TEST(CollisionWorldTest, BoxAsMeshAgreesWithBoxForEveryPartner) {
  const BoxShape box{Vector3d(-30, -10, -5), Vector3d(20, 15, 8)};
  const MeshShape mesh = MeshOf(BoxMesh(box.min, box.max));
  const MeshShape ball = MeshOf(IcosphereMesh(12, 3));
  const std::vector<Shape> partners{Capsule(4, 30), CylinderShape{{0, 0, -9}, {0, 0, 11}, 6},
                                    Box(7, 8, 9), ball};
  std::mt19937_64 rng(5);
  int apart = 0;
  for (int i = 0; i < 400; ++i) {
    const Shape& partner = partners[i % partners.size()];
    const Pose X_WA = RandomPose(rng, 45), X_WB = RandomPose(rng, 5);
    const double solid = Between(partner, X_WA, box, X_WB).distance_mm;
    const double surface = Between(partner, X_WA, mesh, X_WB).distance_mm;
    EXPECT_EQ(solid > 0, surface > 0) << "pose " << i;
    if (solid <= 0) continue;
    ++apart;
    EXPECT_NEAR(solid, surface, kApart_mm) << "pose " << i;
  }
  EXPECT_GT(apart, 100);
}

double PointToSegment(const Vector3d& p, const Vector3d& a, const Vector3d& b) {
  const double t = std::clamp((p - a).dot(b - a) / (b - a).squaredNorm(), 0.0, 1.0);
  return (p - a - t * (b - a)).norm();
}

// Oracle: brute force over points of one solid's surface against the closed
// form of the other; the sampling can only miss the minimum from above.
TEST(CollisionWorldTest, CylinderAgainstCapsuleMatchesDenseSampling) {
  const CylinderShape cylinder{Vector3d(0, 0, -20), Vector3d(0, 0, 30), 15};
  const CapsuleShape capsule = Capsule(6, 40);
  std::mt19937_64 rng(77);
  for (int i = 0; i < 40; ++i) {
    const Pose X_WA = RandomPose(rng, 90), X_WB = RandomPose(rng, 10);
    const double found = Between(cylinder, X_WA, capsule, X_WB).distance_mm;
    if (found < 1) continue;
    const Pose X_BA = X_WB.inverse() * X_WA;
    double sampled = 1e9;
    for (int u = 0; u < 720; ++u) {
      const Vector3d out(std::cos(u * kPi / 360), std::sin(u * kPi / 360), 0);
      for (int k = 0; k <= 200; ++k) {
        const Vector3d side = 15 * out + Vector3d(0, 0, -20 + 0.25 * k);
        sampled = std::min(sampled, PointToSegment(X_BA * side, capsule.from, capsule.to));
        const Vector3d cap = 15 * k / 200.0 * out;
        for (const double z : {-20.0, 30.0}) {
          sampled = std::min(sampled, PointToSegment(X_BA * Vector3d(cap.x(), cap.y(), z),
                                                     capsule.from, capsule.to));
        }
      }
    }
    sampled -= capsule.radius_mm;
    EXPECT_LE(found, sampled + kApart_mm) << "pose " << i;
    // Nearest sample: at most half a step along and around from the minimum.
    EXPECT_GE(found, sampled - 0.03) << "pose " << i;
  }
}

// A direction that is square to a cylinder's end but for rounding once gave a
// point off the end by its radius. Oracle: closed form, and witnesses that lie
// on both bodies.
TEST(CollisionWorldTest, CylinderSquareAboveABoxHasItsWitnessOnItsEnd) {
  const CylinderShape cylinder{Vector3d(0, 0, -30), Vector3d(0, 0, 30), 15};
  std::mt19937_64 rng(410);
  for (int i = 0; i < 300; ++i) {
    const Pose X = RandomPose(rng, 100), X_WA = X * At(2, 3, 70);
    const PairDistance d = Between(cylinder, X_WA, Box(40, 30, 60), X);
    EXPECT_NEAR(d.distance_mm, 10, kApart_mm);
    const Vector3d p_A = X_WA.inverse() * d.p_WA, p_B = X.inverse() * d.p_WB;
    EXPECT_NEAR(p_A.z(), -30, kApart_mm);
    EXPECT_LE(p_A.head<2>().norm(), 15 + kApart_mm);
    EXPECT_NEAR(p_B.z(), 30, kApart_mm);
    EXPECT_LE(std::abs(p_B.x()), 20 + kApart_mm);
    EXPECT_LE(std::abs(p_B.y()), 15 + kApart_mm);
  }
}

// Oracle: spheres; the mesh lies between its inscribed and its own radius.
TEST(CollisionWorldTest, BodyWhollyInsideClosedMeshOverlaps) {
  const MeshShape shell = MeshOf(IcosphereMesh(100, 3));
  EXPECT_LT(Between(Box(5, 5, 5), At(3, 2, 1), shell, At(0, 0, 0)).distance_mm, 0);
  EXPECT_LT(Between(MeshOf(IcosphereMesh(5, 1)), At(3, 2, 1), shell, At(0, 0, 0)).distance_mm, 0);
  EXPECT_LT(Between(shell, At(0, 0, 0), Capsule(2, 10), At(20, 0, 0)).distance_mm, 0);
  const CollisionWorld world({{"bar", {Capsule(2, 10)}}, {"shell", {shell}}});
  EXPECT_LT(world.Distance(0, At(0, 0, 0), 1, At(0, 0, 0), 1.0).distance_mm, 0);
}

// An open mesh has no inside: being "under" it is no overlap.
TEST(CollisionWorldTest, OpenMeshIsOnlyItsSurface) {
  Mesh open = BoxMesh(Vector3d(-50, -50, -50), Vector3d(50, 50, 50));
  open.triangles.pop_back();
  EXPECT_NEAR(Between(Box(10, 10, 10), At(0, 0, 0), MeshOf(open), At(0, 0, 0)).distance_mm, 45,
              kApart_mm);
}

// Definition: above the stop the answer may be anything larger than it, and
// it is never larger than the truth.
TEST(CollisionWorldTest, StoppedSearchStaysBetweenStopAndTruth) {
  const MeshShape mesh = MeshOf(IcosphereMesh(40, 4));
  const CollisionWorld world({{"rod", {Capsule(3, 50), Box(8, 60, 3)}}, {"ball", {mesh}}});
  std::mt19937_64 rng(9);
  for (int i = 0; i < 200; ++i) {
    const Pose X_WA = RandomPose(rng, 120), X_WB = RandomPose(rng, 20);
    const double truth = world.Distance(0, X_WA, 1, X_WB).distance_mm;
    if (truth <= 0) continue;
    const double stopped = world.Distance(0, X_WA, 1, X_WB, 10.0).distance_mm;
    EXPECT_LE(stopped, truth + kApart_mm);
    if (truth > 10.0) {
      EXPECT_GT(stopped, 10.0);
    } else {
      EXPECT_NEAR(stopped, truth, kApart_mm);
    }
  }
}

// Metamorphic: one rigid motion of everything changes no distance, and the
// witnesses stay as far apart as the distance says.
TEST(CollisionWorldTest, CommonMotionChangesNothing) {
  const CollisionWorld world({{"a", {CylinderShape{{0, 0, 0}, {0, 0, 40}, 10}, Capsule(5, 60)}},
                              {"b", {Box(20, 30, 40), MeshOf(IcosphereMesh(25, 2))}}});
  std::mt19937_64 rng(3);
  for (int i = 0; i < 200; ++i) {
    const Pose X_WA = RandomPose(rng, 120), X_WB = RandomPose(rng, 20), X = RandomPose(rng, 2000);
    const PairDistance d = world.Distance(0, X_WA, 1, X_WB);
    const PairDistance moved = world.Distance(0, X * X_WA, 1, X * X_WB);
    if (d.distance_mm <= 0) continue;
    EXPECT_NEAR(d.distance_mm, moved.distance_mm, kApart_mm);
    EXPECT_NEAR((d.p_WA - d.p_WB).norm(), d.distance_mm, kApart_mm);
  }
}

// Oracle: no sampled point is farther, and one of them is nearly as far.
TEST(CollisionWorldTest, ReachBoundsEveryPointOfTheBody) {
  const CylinderShape cylinder{Vector3d(10, 0, 0), Vector3d(10, 0, 50), 20};
  const CollisionWorld world({{"c", {cylinder}}, {"floor", {HalfSpaceShape{0}}}});
  const Vector3d p(100, 30, -20), axis = Vector3d(1, 2, 2) / 3.0;
  double reach = 0, axis_reach = 0;
  for (int u = 0; u < 3600; ++u) {
    const double angle = u * kPi / 1800;
    for (const double z : {0.0, 50.0}) {
      const Vector3d q(10 + 20 * std::cos(angle), 20 * std::sin(angle), z);
      reach = std::max(reach, (q - p).norm());
      axis_reach = std::max(axis_reach, axis.cross(q - p).norm());
    }
  }
  EXPECT_NEAR(world.ReachFrom(0, p), reach, 1e-3);
  EXPECT_GE(world.ReachFromAxis(0, p, axis), axis_reach);
  EXPECT_LE(world.ReachFromAxis(0, p, axis), axis_reach + 20);
  EXPECT_EQ(world.ReachFrom(1, p), std::numeric_limits<double>::infinity());
}

TEST(CollisionWorldTest, ShapeWithoutSizeThrowsNamingBodyFieldAndValue) {
  const auto make = [](const Shape& shape) { return [shape] { CollisionWorld({{"rod", {shape}}}); }; };
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THAT(make(CapsuleShape{{0, 0, 0}, {1, 0, 0}, 0.0}),
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("rod")));
  EXPECT_THAT(make(CapsuleShape{{0, 0, 0}, {1, 0, 0}, nan}),
              testing::ThrowsMessage<std::invalid_argument>(testing::HasSubstr("radius_mm")));
  EXPECT_THROW(make(CylinderShape{{1, 0, 0}, {1, 0, 0}, 2.0})(), std::invalid_argument);
  EXPECT_THROW(make(BoxShape{{0, 0, 0}, {1, -1, 1}})(), std::invalid_argument);
  EXPECT_THROW(make(MeshShape{nullptr})(), std::invalid_argument);
  EXPECT_THROW(CollisionWorld(std::vector<Body>{Body{"empty", {}}}), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::sim
