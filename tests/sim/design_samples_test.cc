#include "sim/design_samples.h"

#include <algorithm>
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "tests/support/png_bytes.h"
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

// The tiny job with a picture of 20 x 20 mm on the block's top, its corner at (20, 10).
TinyJob WithPicture(const std::string& more, const std::vector<unsigned char>& pixels) {
  TinyJob tiny;
  tiny.Change("tiny.job.yaml", "design: {depth_below_stock: 1.0}",
              "design: {image: relief.png, depth: [0, 2], width: 20, at: {position: [20, 10, 30], rotation: {axis: [0, 0, 1], angle: 0}}" +
                  more + "}");
  tiny.files["relief.png"] = test::PngBytes(PNG_FORMAT_GRAY, 2, 2, pixels);
  return tiny;
}

// Oracle: the picture: black on the left asks for 2 mm, white on the right for nothing,
// between the middles of the two pixels, 25 and 35 mm, depth falls evenly.
TEST(DesignSamplesTest, PictureAsksForItsDepthsBelowTheFace) {
  const TempFolder folder;
  const Job job = LoadJob(WithPicture("", {0, 255, 0, 255}).WriteTo(folder), {});
  ASSERT_NE(job.design.image, nullptr);
  EXPECT_NEAR(job.design.image->height_mm, 20.0, 1e-12);
  const std::vector<DesignSample> samples = SampleDesign(job, 0.5, 2);
  double carve_mm2 = 0.0;
  for (const DesignSample& s : samples) {
    const double x = s.ray.p_SQ.x();
    if (s.role == DesignSample::Role::kSpare) {
      EXPECT_NEAR(s.ray.p_SQ.z(), 20.0, 1e-9);
      continue;
    }
    carve_mm2 += s.area_mm2;
    const double depth = 2.0 * std::clamp((35.0 - x) / 10.0, 0.0, 1.0);
    EXPECT_NEAR(s.ray.p_SQ.z(), 20.0 - depth, 1e-6) << x;
    EXPECT_GT(s.ray.p_SQ.y(), 10.0);
    EXPECT_LT(s.ray.p_SQ.y(), 30.0);
  }
  // All but where less than 0.05 mm is asked: from x = 34.75 on.
  EXPECT_NEAR(carve_mm2, 20.0 * 14.75, 20.0 * 0.5);
}

TEST(DesignSamplesTest, MaskKeepsTheFaceAsItIs) {
  const TempFolder folder;
  TinyJob tiny = WithPicture(", mask: keep.png", {0, 255, 0, 255});
  tiny.files["keep.png"] = test::PngBytes(PNG_FORMAT_GRAY, 1, 2, {0, 255});   // the upper half is kept
  for (const DesignSample& s : SampleDesign(LoadJob(tiny.WriteTo(folder), {}), 0.5, 2)) {
    const bool kept = s.ray.p_SQ.y() > 20.0;
    if (kept) {
      EXPECT_EQ(s.role, DesignSample::Role::kSpare);
    }
  }
}

TEST(DesignSamplesTest, PicturesThatShowNothingAreRefused) {
  const auto refused = [](const TinyJob& tiny, const char* text) {
    const TempFolder folder;
    const std::string job = tiny.WriteTo(folder);
    EXPECT_THAT([&] { LoadJob(job, {}); }, testing::ThrowsMessage<InputError>(testing::HasSubstr(text)));
  };
  const std::vector<unsigned char> relief = {0, 255, 0, 255};
  refused(WithPicture("", {9, 9, 9, 9}), "design.image = relief.png is of one grey");
  TinyJob masked = WithPicture(", mask: keep.png", relief);
  masked.files["keep.png"] = test::PngBytes(PNG_FORMAT_GRAY, 1, 1, {0});
  refused(masked, "design.mask = keep.png covers everything");
  TinyJob away = WithPicture("", relief);
  away.Change("tiny.job.yaml", "position: [20, 10, 30]", "position: [200, 10, 30]");
  refused(away, "design.image = relief.png meets the stock nowhere");
  TinyJob level = WithPicture("", relief);
  level.Change("tiny.job.yaml", "depth: [0, 2]", "depth: [2, 2]");
  refused(level, "design.depth has the same depth at white and at black");
  TinyJob no_width = WithPicture("", relief);
  no_width.Change("tiny.job.yaml", "width: 20, ", "");
  refused(no_width, "design.width is missing");
}

}  // namespace
}  // namespace aircut::sim
