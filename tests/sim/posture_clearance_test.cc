#include "sim/posture_clearance.h"

#include <algorithm>
#include <array>

#include <gtest/gtest.h>

#include "kinematics/forward_kinematics.h"
#include "kinematics/units.h"
#include "sim/job.h"
#include "sim/track_clearance.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using kinematics::JointVector;

JointVector Joints(const std::array<double, 6>& values_deg) {
  JointVector q(6);
  for (std::size_t j = 0; j < 6; ++j) q[static_cast<Eigen::Index>(j)] = kinematics::RadFromDeg(values_deg[j]);
  return q;
}

// An arm that stands still for a second.
kinematics::MotionTrack StandingAt(const JointVector& q) {
  kinematics::MotionTrack track;
  for (const double time_s : {0.0, 1.0}) {
    track.time_s.push_back(time_s);
    track.q.push_back(q);
    track.line.push_back(2);
    track.phase.push_back(kinematics::Phase::kRapid);
    track.path_index.push_back(0);
  }
  return track;
}

class PostureClearanceTest : public testing::Test {
 protected:
  test::TempFolder folder_;
  // The base stands elsewhere than the room's zero.
  Job job_ = LoadJob(test::TinyJob()
                         .Change("tiny.cell.yaml", "base_in_world: {position: [0, 0, 0]",
                                 "base_in_world: {position: [60, 0, 80]")
                         .WriteTo(folder_),
                     {});
  PostureClearance room_{job_, job_.cell.X_WS};
};

TEST_F(PostureClearanceTest, HomeIsFreeAndAnArmThroughTheFenceIsNot) {
  EXPECT_EQ(room_.Beyond_mm(job_.cell.home, 0), 0.0);
  // Stretched out level: its tip lies beyond 1.8 m, where the fence stands.
  EXPECT_LT(room_.Beyond_mm(Joints({0, 90, 0, 0, 10, 0}), 0), -job_.accept.clearance_mm.value);
}

// Oracle: the search over time, for an arm that stands still; on the way from home
// into the fence there is every answer from free to overlapping.
TEST_F(PostureClearanceTest, AgreesWithTheSearchOverTime) {
  CellBodies cell = BodiesOf(job_, job_.cell.X_WS);
  const CollisionWorld world(std::move(cell.bodies));
  const JointVector stretched = Joints({0, 90, 0, 0, 10, 0});
  int near = 0;
  for (int i = 0; i <= 100; ++i) {
    const JointVector q = job_.cell.home + i / 100.0 * (stretched - job_.cell.home);
    double least_mm = 1e9;
    for (const PairClearance& pair :
         ClearancesAlong({job_, world, cell.mounts, 1}, StandingAt(q), cell.pairs).pairs) {
      least_mm = std::min(least_mm, pair.clearance_mm);
    }
    const double beyond_mm = least_mm - job_.accept.clearance_mm.value;
    if (least_mm >= 0.0) {
      EXPECT_NEAR(room_.Beyond_mm(q, 0), std::min(0.0, beyond_mm), 0.02) << i;
      near += beyond_mm < 0.0 ? 1 : 0;
    } else {
      EXPECT_LE(room_.Beyond_mm(q, 0), -job_.accept.clearance_mm.value) << i;
    }
  }
  EXPECT_GT(near, 0);
}

}  // namespace
}  // namespace aircut::sim
