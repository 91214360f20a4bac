// The shipped letters: strokes of a V cutter, crossing and meeting each other.
#include <cmath>

#include <gtest/gtest.h>

#include "sim/depth_rays.h"
#include "sim/executed_track.h"
#include "sim/job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector2d;

// The path is written for 1.5 mm; the setter measured the bit 0.01 mm longer.
constexpr double kDepth_mm = 1.51;
// A 60 degree V with a tip radius of 0.1 mm: its sharp apex lies 0.1 mm below the
// tip end, so that the stroke is 2 (depth + 0.1) tan 30 degrees wide.
const double kWidth_mm = 2.0 * (kDepth_mm + 0.1) * std::tan(0.52359877559829887);

class VLetteringTest : public ::testing::Test {
 protected:
  VLetteringTest()
      : job_(LoadJob(std::string(AIRCUT_SCENES) + "/v_lettering/job.yaml", {})),
        track_(TrackFromPath(job_, job_.cell.X_WS)) {}

  double DepthAt(const Vector2d& place) const {
    const DepthRay ray{{place.x(), place.y(), -1.5}, Eigen::Vector3d::UnitZ()};
    return 1.5 - CutRays(*job_.stock_S, track_, {ray}, 1.0, 1)[0].top_mm;
  }
  // Where the groove ends at the face, going from a place inside it.
  double EdgeFrom(const Vector2d& place, const Vector2d& along) const {
    double in = 0.0, out = 3.0;
    while (out - in > 1e-4) {
      const double mid = 0.5 * (in + out);
      (DepthAt(place + mid * along) > 1e-6 ? in : out) = mid;
    }
    return in;
  }
  double WidthAt(const Vector2d& place, const Vector2d& stroke) const {
    const Vector2d across = Vector2d(-stroke.y(), stroke.x()).normalized();
    return EdgeFrom(place, across) + EdgeFrom(place, -across);
  }

  const Job job_;
  const ToolTrack track_;
};

TEST_F(VLetteringTest, StrokesAreAsWideAsTheVMakesThem) {
  const Vector2d places[] = {{26, -8}, {6.5, 7.5}, {-16, 9}, {50, 15}, {34, 8.1428571428571429}};
  const Vector2d strokes[] = {{0, 1}, {18, -30}, {10, 30}, {8, 0}, {14, 16}};
  for (int n = 0; n < 5; ++n) {
    EXPECT_NEAR(WidthAt(places[n], strokes[n]), kWidth_mm, 0.02) << n;
    EXPECT_NEAR(DepthAt(places[n]), kDepth_mm, 0.005) << n;
  }
}

// Where two strokes cross, each cuts no deeper than alone and the deeper of the two
// stands: across one stroke, at a place u along it, the other reaches as far as its
// own edge does.
TEST_F(VLetteringTest, CrossingStrokesCutNoDeeperThanEachAlone) {
  const Vector2d crossing(11, 0);
  EXPECT_NEAR(DepthAt(crossing), kDepth_mm, 0.005);
  const Vector2d down = Vector2d(18, -30).normalized(), up = Vector2d(18, 30).normalized();
  for (const double u : {0.2, 0.5, 0.9, 1.4}) {
    for (const double v : {-0.7, 0.1, 0.6}) {
      const Vector2d place = crossing + u * down + v * up;
      const auto depth_of = [&](const Vector2d& along) {
        const Vector2d from = place - crossing;
        const double off = std::abs(from.x() * along.y() - from.y() * along.x());
        // The round tip ends at 0.1 cos 30 from the middle; the flank falls at 60 degrees.
        const double r = 0.1, tangent = r * std::cos(0.52359877559829887);
        return off < tangent ? kDepth_mm - r + std::sqrt(r * r - off * off)
                             : kDepth_mm + 0.1 - off / std::tan(0.52359877559829887);
      };
      const double expected = std::max({0.0, depth_of(down), depth_of(up)});
      EXPECT_NEAR(DepthAt(place), expected, 0.005) << u << " " << v;
    }
  }
}

}  // namespace
}  // namespace aircut::sim
