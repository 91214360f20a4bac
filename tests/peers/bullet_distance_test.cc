// A second opinion on distances of convex bodies: Bullet in double precision,
// margins set to nothing.
#include <random>

#include <BulletCollision/CollisionShapes/btBoxShape.h>
#include <BulletCollision/CollisionShapes/btConvexHullShape.h>
#include <BulletCollision/NarrowPhaseCollision/btGjkEpa2.h>
#include <gtest/gtest.h>

#include "sim/collision_world.h"

static_assert(sizeof(btScalar) == 8, "Bullet must be the double-precision build");

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

btTransform ToBullet(const Pose& X) {
  const Eigen::Quaterniond q(X.linear());
  return btTransform(btQuaternion(q.x(), q.y(), q.z(), q.w()),
                     btVector3(X.translation().x(), X.translation().y(), X.translation().z()));
}

Pose RandomPose(std::mt19937_64& rng, double spread_mm) {
  std::uniform_real_distribution<double> c(-1.0, 1.0);
  Eigen::Quaterniond q;
  do q = Eigen::Quaterniond(c(rng), c(rng), c(rng), c(rng)); while (q.norm() < 0.2);
  Pose X = Pose::Identity();
  X.linear() = q.normalized().toRotationMatrix();
  X.translation() = spread_mm * Vector3d(c(rng), c(rng), c(rng));
  return X;
}

// How far a point lies outside a box that is posed in W.
double Outside(const Pose& X_WA, const Vector3d& half, const Vector3d& p_W) {
  return ((X_WA.inverse() * p_W).cwiseAbs() - half).cwiseMax(0.0).norm();
}

// Peer: Bullet's GJK on two boxes in random poses, apart by 0 to 2 m. Now and
// then (1 of 500 poses here, by 0.8 mm) its search stops before the nearest
// points. There ours must be the smaller, and its witness points prove it: a
// point in each box, that far apart, cannot be farther than the distance.
TEST(BulletPeerTest, DistanceOfRandomBoxesAgrees) {
  const Vector3d half_a(60, 25, 140), half_b(15, 200, 40);
  const CollisionWorld world({{"a", {BoxShape{-half_a, half_a}}}, {"b", {BoxShape{-half_b, half_b}}}});
  btBoxShape box_a(btVector3(half_a.x(), half_a.y(), half_a.z())), box_b(btVector3(half_b.x(), half_b.y(), half_b.z()));
  box_a.setMargin(0);
  box_b.setMargin(0);
  std::mt19937_64 rng(41);
  int apart = 0, stopped_early = 0;
  for (int n = 0; n < 500; ++n) {
    const Pose X_WA = RandomPose(rng, 400.0), X_WB = RandomPose(rng, 400.0);
    const PairDistance found = world.Distance(0, X_WA, 1, X_WB);
    const double ours = found.distance_mm;
    btGjkEpaSolver2::sResults results;
    const bool theirs_apart = btGjkEpaSolver2::Distance(&box_a, ToBullet(X_WA), &box_b, ToBullet(X_WB),
                                                        btVector3(1, 0, 0), results);
    EXPECT_EQ(ours > 0.0, theirs_apart) << n;
    if (!theirs_apart) continue;
    ++apart;
    EXPECT_LT(Outside(X_WA, half_a, found.p_WA), 1e-6);
    EXPECT_LT(Outside(X_WB, half_b, found.p_WB), 1e-6);
    EXPECT_NEAR((found.p_WA - found.p_WB).norm(), ours, CollisionWorld::kDistanceBound_mm);
    const double tolerance = CollisionWorld::kDistanceBound_mm + 1e-4 * ours;   // theirs: 1e-4, relative
    EXPECT_LT(ours, results.distance + tolerance) << n;
    stopped_early += results.distance > ours + tolerance ? 1 : 0;
  }
  EXPECT_GT(apart, 200);
  EXPECT_LE(stopped_early, apart / 100);
}

}  // namespace
}  // namespace aircut::sim
