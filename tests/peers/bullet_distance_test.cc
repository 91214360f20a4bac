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

// Peer: Bullet's GJK on two boxes in random poses, apart by 0 to 2 m.
TEST(BulletPeerTest, DistanceOfRandomBoxesAgrees) {
  const Vector3d half_a(60, 25, 140), half_b(15, 200, 40);
  const CollisionWorld world({{"a", {BoxShape{-half_a, half_a}}}, {"b", {BoxShape{-half_b, half_b}}}});
  btBoxShape box_a(btVector3(half_a.x(), half_a.y(), half_a.z())), box_b(btVector3(half_b.x(), half_b.y(), half_b.z()));
  box_a.setMargin(0);
  box_b.setMargin(0);
  std::mt19937_64 rng(41);
  int apart = 0;
  for (int n = 0; n < 500; ++n) {
    const Pose X_WA = RandomPose(rng, 400.0), X_WB = RandomPose(rng, 400.0);
    const double ours = world.Distance(0, X_WA, 1, X_WB).distance_mm;
    btGjkEpaSolver2::sResults results;
    const bool theirs_apart = btGjkEpaSolver2::Distance(&box_a, ToBullet(X_WA), &box_b, ToBullet(X_WB),
                                                        btVector3(1, 0, 0), results);
    EXPECT_EQ(ours > 0.0, theirs_apart) << n;
    if (!theirs_apart) continue;
    ++apart;
    // Their search stops at a relative 1e-4 of the distance.
    EXPECT_NEAR(ours, results.distance, CollisionWorld::kDistanceBound_mm + 1e-4 * ours) << n;
  }
  EXPECT_GT(apart, 200);
}

}  // namespace
}  // namespace aircut::sim
