#include "sim/design_samples.h"

#include <cmath>

#include <gtest/gtest.h>

#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using test::TempFolder;
using test::TinyJob;

std::vector<DesignSample> CarveOnly(const std::vector<DesignSample>& all) {
  std::vector<DesignSample> carve;
  for (const DesignSample& s : all) {
    if (s.role == DesignSample::Role::kCarve) carve.push_back(s);
  }
  return carve;
}

// Oracle: the drawing. The tiny job engraves a line at y = 20, 1 mm below the
// face at z = 20, from x = 10 to x = 50; the upright entry and exit are part of
// the cut, but have no length across the face.
TEST(DesignSamplesTest, EngravingIsSampledUnderThePathAtTheDepthAskedFor) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  const auto carve = CarveOnly(SampleDesign(job, 0.5, 2));
  ASSERT_GE(carve.size(), 80u);
  for (const DesignSample& s : carve) {
    EXPECT_NEAR(s.ray.p_SQ.y(), 20.0, 1e-9);
    EXPECT_NEAR(s.ray.p_SQ.z(), 19.0, 1e-9);
    EXPECT_GE(s.ray.p_SQ.x(), 10.0 - 1e-9);
    EXPECT_LE(s.ray.p_SQ.x(), 50.0 + 1e-9);
    EXPECT_NEAR(s.ray.up_S.z(), 1.0, 1e-9);
    EXPECT_GE(s.path_index, 0);
  }
}

// A lead that comes in above half the depth is no carving; its twin that starts
// at depth keeps its first millimetre.
TEST(DesignSamplesTest, ShallowLeadIsLeftOut) {
  const TempFolder folder;
  TinyJob tiny;
  // The first cut now slopes from 1 mm over the face down to depth over 10 mm.
  tiny.Change("groove.csv", "10,20,22,0,0,1,0,12000,rapid\n10,20,19,0,0,1,300,12000,cut\n",
              "4,20,21,0,0,1,0,12000,rapid\n10,20,19,0,0,1,300,12000,cut\n");
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  double first_x = 1e9;
  for (const DesignSample& s : CarveOnly(SampleDesign(job, 0.25, 1))) {
    first_x = std::min(first_x, s.ray.p_SQ.x());
  }
  // The slope passes half the depth (z = 19.5) at x = 8.5.
  EXPECT_NEAR(first_x, 8.5, 0.3);
}

// A cut that never reaches half its depth is not dropped: it counts whole, so
// that it shows as left standing.
TEST(DesignSamplesTest, CutThatIsTooShallowThroughoutCountsWhole) {
  const TempFolder folder;
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "depth_below_stock: 1.0", "depth_below_stock: 3.0");
  const Job job = LoadJob(tiny.WriteTo(folder), {});
  double length = 0.0;
  for (const DesignSample& s : CarveOnly(SampleDesign(job, 0.5, 1))) length += s.area_mm2 / 0.5;
  EXPECT_NEAR(length, 40.0 + 3.0 + 3.0, 1.0);   // the groove, its entry and its exit
}

// The face beside the groove must not be cut below the design: it is sampled
// as far as the tool comes, and no farther than it must be.
TEST(DesignSamplesTest, FaceBesideTheGrooveIsSpare) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  bool beside = false;
  for (const DesignSample& s : SampleDesign(job, 1.0, 2)) {
    if (s.role != DesignSample::Role::kSpare) continue;
    beside = beside || (std::abs(s.ray.p_SQ.y() - 20.0) > 2.5 && std::abs(s.ray.p_SQ.x() - 30.0) < 15.0);
  }
  EXPECT_TRUE(beside);
}

// Metamorphic: threads change nothing.
TEST(DesignSamplesTest, ThreadsChangeNothing) {
  const TempFolder folder;
  const Job job = LoadJob(TinyJob().WriteTo(folder), {});
  const auto one = SampleDesign(job, 0.5, 1), three = SampleDesign(job, 0.5, 3);
  ASSERT_EQ(one.size(), three.size());
  for (std::size_t i = 0; i < one.size(); ++i) {
    EXPECT_EQ(one[i].ray.p_SQ, three[i].ray.p_SQ);
    EXPECT_EQ(one[i].ray.up_S, three[i].ray.up_S);
    EXPECT_EQ(one[i].area_mm2, three[i].area_mm2);
  }
}

}  // namespace
}  // namespace aircut::sim
