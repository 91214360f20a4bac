#include "verify/report_figures.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "tests/support/made_report.h"

namespace aircut::verify {
namespace {

using support::MadeReport;
using support::MakeReport;

// Design samples in rows of 1 mm in the plane z = -2; the cut lies at -2 + error.
template <typename Error>
void PutSamples(MadeReport* made, const Error& error_of) {
  made->run.sample_spacing_mm = 1.0;
  for (int y = 0; y < 20; ++y) {
    for (int x = 0; x < 40; ++x) {
      sim::DesignSample sample;
      sample.ray = {Eigen::Vector3d(x, y, -2), Eigen::Vector3d::UnitZ()};
      sample.area_mm2 = 1.0;
      sim::RayDepth depth;
      depth.has_material = depth.touched = true;
      depth.top_mm = error_of(x, y);
      made->run.samples.push_back(sample);
      made->run.depths.push_back(depth);
      made->deviation.error_mm.push_back(depth.top_mm);
    }
  }
}

// Oracle: shares of an area add up to one, and each error lies in its own step: half of
// this field is at 0.1, a quarter at -0.7, a quarter beyond the upper end.
TEST(ReportFiguresTest, HistogramHoldsAllOfTheArea) {
  MadeReport made = MakeReport();
  PutSamples(&made, [](int x, int) { return x < 20 ? 0.1 : x < 30 ? -0.7 : 9.0; });
  const std::optional<DepthHistogram> h = HistogramOf(made.Context());
  ASSERT_TRUE(h);
  EXPECT_NEAR(std::accumulate(h->share.begin(), h->share.end(), h->below + h->above), 1.0, 1e-12);
  EXPECT_NEAR(h->above, 0.25, 1e-12);
  EXPECT_EQ(h->below, 0.0);
  const auto share_at = [&](double mm) { return h->share[static_cast<std::size_t>(std::floor((mm - h->from_mm) / h->step_mm))]; };
  EXPECT_NEAR(share_at(0.1), 0.5, 1e-12);
  EXPECT_NEAR(share_at(-0.7), 0.25, 1e-12);
}

// Oracle: the field itself: both sections run through the one deep place, and the cut lies
// there as far below the design as the error says.
TEST(ReportFiguresTest, SectionsRunThroughTheWorstPlace) {
  MadeReport made = MakeReport();
  PutSamples(&made, [](int x, int y) { return x == 12 && y == 7 ? -1.5 : 0.05; });
  const std::vector<DepthSection> sections = SectionsOf(made.Context());
  ASSERT_EQ(sections.size(), 2u);
  EXPECT_EQ(sections[0].along, 0);
  EXPECT_EQ(sections[0].at_mm, 7.0);
  EXPECT_EQ(sections[1].along, 1);
  EXPECT_EQ(sections[1].at_mm, 12.0);
  for (const DepthSection& s : sections) {
    double deepest = 0;
    ASSERT_EQ(s.place_mm.size(), s.along == 0 ? 40u : 20u);
    for (std::size_t i = 0; i < s.place_mm.size(); ++i) {
      EXPECT_EQ(s.design_mm[i], -2.0);
      deepest = std::min(deepest, s.cut_mm[i] - s.design_mm[i]);
      if (i > 0) {
        EXPECT_GT(s.place_mm[i], s.place_mm[i - 1]);
      }
    }
    EXPECT_NEAR(deepest, -1.5, 1e-12);
  }
}

std::optional<Trace> TraceOf(const std::string& name, const MadeReport& made) {
  for (const Trace& trace : TracesOf(made.Context())) {
    if (trace.name == name) return trace;
  }
  return std::nullopt;
}

TEST(ReportFiguresTest, RunWithoutSamplesHasNoDrawingOfThem) {
  const MadeReport made = MakeReport();
  EXPECT_FALSE(HistogramOf(made.Context()));
  EXPECT_TRUE(SectionsOf(made.Context()).empty());
}

// Oracle: the moments: no trace leaves the range of its values, and the lowest and highest
// of all moments are in it.
TEST(ReportFiguresTest, TracesHoldTheExtremesOfTheMoments) {
  const MadeReport made = MakeReport();
  const std::vector<Trace> traces = TracesOf(made.Context());
  ASSERT_GE(traces.size(), 2u);
  const std::vector<double>& feed = made.run.motion.tracks[0].feed_mm_s;
  EXPECT_EQ(*std::max_element(traces[0].high.begin(), traces[0].high.end()), *std::max_element(feed.begin(), feed.end()));
  EXPECT_EQ(*std::min_element(traces[0].low.begin(), traces[0].low.end()), *std::min_element(feed.begin(), feed.end()));
  EXPECT_EQ(traces[0].time_s.size(), traces[0].low.size());
}

// Oracle: one sweep that cuts with forces of length 3, 6 and 12 N: the trace rises to the
// 12 N of the bad end at the moment that ends that sweep, and is zero elsewhere.
TEST(ReportFiguresTest, ForceIsDrawnAtTheMomentThatEndsItsSweep) {
  MadeReport made = MakeReport();
  made.run.executed = true;
  made.run.track.time_s = made.run.motion.tracks[0].time_s;
  EXPECT_FALSE(TraceOf("cutting force", made)) << "nothing is known of forces";
  sim::CuttingLoad& load = made.run.load;
  load.force.emplace();
  load.of_sweep.assign(made.run.track.time_s.size() - 1, -1);
  sim::SweepLoad sweep;
  sweep.mean_S_n = {Eigen::Vector3f(1, 2, 2), Eigen::Vector3f(2, 4, 4), Eigen::Vector3f(4, 8, 8)};
  load.of_sweep[2] = 0;
  load.sweeps.push_back(sweep);
  const std::optional<Trace> force = TraceOf("cutting force", made);
  ASSERT_TRUE(force);
  // A stretch of the drawing begins at its first moment and holds some more.
  const auto next = std::upper_bound(force->time_s.begin(), force->time_s.end(), made.run.track.time_s[3]);
  const auto stretch = static_cast<std::size_t>(next - force->time_s.begin()) - 1;
  for (std::size_t i = 0; i < force->time_s.size(); ++i) EXPECT_NEAR(force->high[i], i == stretch ? 12.0 : 0.0, 1e-6) << i;
  EXPECT_FALSE(TraceOf("deflection", made)) << "no layer acts";
  sim::LayerShift arm{sim::ErrorLayer::kArm, {}};
  arm.of_sweep.assign(load.of_sweep.size(), {});
  made.run.execution.layers.push_back(arm);
  const std::optional<Trace> deflection = TraceOf("deflection", made);
  ASSERT_TRUE(deflection);
  EXPECT_EQ(deflection->limit, made.job.accept.deflection_mm.value);
}

// Oracle: the bytes themselves, taken apart again: every vertex of the small plate comes
// back to within half a step, every corner names a vertex.
TEST(ReportFiguresTest, SolidComesBackFromItsSteps) {
  MadeReport made = MakeReport();
  const sim::Mesh plate = sim::BoxMesh({-40, -30, -10}, {40, 30, 0});
  const std::vector<float> deviation{0.0f, -0.5f, 0.5f, NAN, 0.1f, 99.0f, -99.0f, 0.0f};
  PictureRequest request;
  request.mesh_S = &plate;
  const PiecePicture picture{DrawPiece(request), ChooseView(request), &plate, &deviation};
  const auto figures = nlohmann::json::parse(FiguresOf(made.Context(), picture).json);
  const auto& piece = figures["solids"]["piece"];
  EXPECT_NEAR(piece["step_mm"].get<double>(), 80.0 / 65535, 1e-12);
  EXPECT_EQ(piece["v"].get<std::string>().size(), 8u * 6 / 3 * 4);    // base64 of 48 bytes
  EXPECT_EQ(piece["i"].get<std::string>().size(), 12u * 6 / 3 * 4);
  // Steps 0, -1 (0.5 of a tolerance of 0.3), +1, 127 (no value), 0, 4, -4, 0 as bytes.
  EXPECT_EQ(piece["d"], "AP8BfwAE/AA=");
}

}  // namespace
}  // namespace aircut::verify
