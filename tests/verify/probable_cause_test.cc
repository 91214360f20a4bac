// Deviation fields in closed form: whose cause and size are known.
#include <cmath>
#include <functional>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"
#include "verify/cause_field.h"
#include "verify/cause_words.h"

namespace aircut::verify {
namespace {

using Eigen::Vector3d;
using testing::HasSubstr;

using Height = std::function<double(double x, double y)>;

constexpr double kSide_mm = 30.0, kSpacing_mm = 0.5, kStockTop_mm = 25.0;

// A square of samples over a design, seen along z, cut down to another surface by a 6 mm
// ball whose axis stands upright.
support::MadeRun FieldOf(const Height& design, const Height& cut) {
  support::MadeRun made = support::MakeRun();
  sim::Run& run = made.run;
  run.samples.clear();
  run.depths.clear();
  run.grid_gaps.clear();
  run.location = {};
  run.sample_spacing_mm = kSpacing_mm;
  for (double x = -0.5 * kSide_mm; x <= 0.5 * kSide_mm; x += kSpacing_mm) {
    for (double y = -0.5 * kSide_mm; y <= 0.5 * kSide_mm; y += kSpacing_mm) {
      sim::DesignSample s;
      s.ray = {{x, y, design(x, y)}, Vector3d::UnitZ()};
      s.area_mm2 = kSpacing_mm * kSpacing_mm;
      run.samples.push_back(s);
      sim::RayDepth d;
      d.has_material = d.touched = true;
      d.stock_top_mm = kStockTop_mm - design(x, y);
      d.top_mm = std::min(cut(x, y) - design(x, y), d.stock_top_mm);
      d.bottom_mm = -40.0;
      d.sweep = 2;
      run.depths.push_back(d);
    }
  }
  return made;
}

std::optional<ProbableCause> CauseOf(const support::MadeRun& made) { return Measure(made.job, made.run).cause; }

const FittedCause* Find(const std::optional<ProbableCause>& cause, CauseKind kind) {
  if (!cause) return nullptr;
  if (cause->best.parts.size() == 1 && cause->best.parts[0].kind == kind) return &cause->best.parts[0];
  for (const CauseFit& rival : cause->rivals) {
    if (rival.parts.size() == 1 && rival.parts[0].kind == kind) return &rival.parts[0];
  }
  return nullptr;
}

double Flat(double, double) { return 0.0; }

// Oracle: a flat face knows of a lowered tool only that it is lower. Frame, bit and path
// are alike, with one size, and the setter tells.
TEST(ProbableCauseTest, LowFrameAndLongBitAreRivalsOnAFlatFace) {
  const support::MadeRun made = FieldOf(Flat, [](double, double) { return -0.8; });
  const auto cause = CauseOf(made);
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kFrameZ);
  EXPECT_NEAR(cause->best.share, 1.0, 1e-9);
  for (const CauseKind kind : {CauseKind::kFrameZ, CauseKind::kToolLength, CauseKind::kDepth}) {
    ASSERT_NE(Find(cause, kind), nullptr);
    EXPECT_NEAR(std::abs(Find(cause, kind)->size), 0.8, 0.008);
  }
  EXPECT_EQ(cause->rivals.size(), 2u);
  const std::string text = CauseText(*cause, made.job);
  EXPECT_THAT(text, HasSubstr("too low, which explains 100 % of the deviation"));
  EXPECT_THAT(text, HasSubstr("longer than typed (100 %)"));
  EXPECT_THAT(text, HasSubstr("to tell them apart: measure the stick-out of the bit with a setter"));
}

// Oracle: the plane turned by w about y stands -x tan(w) higher.
TEST(ProbableCauseTest, TiltedPlaneIsATurnOfTheFrame) {
  const auto cause = CauseOf(FieldOf(Flat, [](double x, double) { return -std::tan(0.04) * x; }));
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kTurnY);
  EXPECT_NEAR(cause->best.parts[0].size, 0.04, 0.0004);
  EXPECT_TRUE(cause->rivals.empty()) << CauseText(*cause, sim::Job());
}

// Oracle: a wave moved sideways by 0.8 mm.
TEST(ProbableCauseTest, MovedWaveIsAShiftOfTheFrame) {
  const auto wave = [](double x, double y) { return 3.0 * std::sin(x / 6.0) * std::cos(y / 8.0); };
  const auto cause = CauseOf(FieldOf(wave, [&](double x, double y) { return wave(x - 0.8, y); }));
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kFrameX);
  EXPECT_NEAR(cause->best.parts[0].size, 0.8, 0.008);
}

// Oracle: spheres. A bowl of radius R cut by a ball dr too large, its tip where it should
// be, is a bowl of radius R + dr whose centre is dr higher; at its bottom nothing shows.
TEST(ProbableCauseTest, LargerBallIsToldByTheWallsOfABowl) {
  const double bowl = 24.0, dr = 1.2;
  support::MadeRun made = FieldOf([&](double x, double y) { return -std::sqrt(bowl * bowl - x * x - y * y); },
                                  [&](double x, double y) {
                                    return dr - std::sqrt((bowl + dr) * (bowl + dr) - x * x - y * y);
                                  });
  made.job.cell.cutters.emplace(2, support::MadeCutter());
  made.job.cell.cutters.at(2).cutter = sim::Cutter::Ball(2.0 * (3.0 - dr), 20.0);
  const auto cause = CauseOf(made);
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kToolRadius);
  EXPECT_NEAR(cause->best.parts[0].size, dr, 0.01 * dr);
  EXPECT_THAT(CauseText(*cause, made.job), HasSubstr("larger in radius than the path was made for (it suits cutter 2)"));
}

// Oracle: circles. Around a cylinder the axis follows its normal; a bit too long by L cuts
// the cylinder of radius R - L, which along z is no constant depth.
TEST(ProbableCauseTest, LongBitIsToldFromALowFrameWhereTheAxisTurns) {
  const double radius = 17.0, length = 0.7;
  support::MadeRun made = FieldOf([&](double x, double) { return std::sqrt(radius * radius - x * x); },
                                  [&](double x, double) { return std::sqrt((radius - length) * (radius - length) - x * x); });
  sim::ToolTrack& track = made.run.track;
  track.p_ST.clear();
  track.axis_S.clear();
  track.sweeps.clear();
  for (std::size_t i = 0; i < made.run.samples.size(); ++i) {
    const Vector3d& p = made.run.samples[i].ray.p_SQ;
    track.axis_S.push_back(Vector3d(p.x(), 0.0, p.z()) / radius);
    track.p_ST.push_back(p - length * track.axis_S.back());
    track.sweeps.push_back({static_cast<int>(i) + 2, 0});
    made.run.depths[i].sweep = static_cast<int>(i);
  }
  track.sweeps.pop_back();
  made.run.depths.back().sweep = static_cast<int>(track.sweeps.size()) - 1;
  const auto cause = CauseOf(made);
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kToolLength);
  EXPECT_NEAR(cause->best.parts[0].size, length, 0.01 * length);
  EXPECT_EQ(Find(cause, CauseKind::kFrameZ), nullptr);
}

// A shift and a turn together: no one of them explains the field, both do.
TEST(ProbableCauseTest, TwoCausesAreNamedTogether) {
  const support::MadeRun made = FieldOf(Flat, [](double x, double) { return -0.5 - 0.05 * x; });
  const Deviation d = Measure(made.job, made.run);
  const auto& cause = d.cause;
  ASSERT_TRUE(cause);
  // Of the squares 0.5^2 are the shift's and 0.05^2 15^2 / 3 = 0.19 the turn's.
  EXPECT_NEAR(SingleCauses(FieldForCauses(made.run, d)).front().share, 0.25 / (0.25 + 0.1875), 0.03);
  ASSERT_EQ(cause->best.parts.size(), 2u);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kFrameZ);
  EXPECT_NEAR(cause->best.parts[0].size, -0.5, 0.005);
  EXPECT_EQ(cause->best.parts[1].kind, CauseKind::kTurnY);
  EXPECT_NEAR(cause->best.parts[1].size, 0.05, 0.0005);
}

// A design without symmetry, cut as its mirror image; a symmetrical one cannot be told.
TEST(ProbableCauseTest, MirroredDesignIsNamed) {
  const auto design = [](double x, double y) { return std::sin(x / 4.0) + 0.5 * std::cos(x / 3.0 + y / 6.0) + 0.3 * std::sin(y / 2.5); };
  const auto cause = CauseOf(FieldOf(design, [&](double x, double y) { return design(-x, y); }));
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kMirrorX);
  EXPECT_GT(cause->best.share, 0.99);
}

// A path in inches read as millimetres cuts a 25th of the design and leaves the rest.
TEST(ProbableCauseTest, PathOfOtherUnitsIsNamed) {
  support::MadeRun made = FieldOf(Flat, [](double, double) { return 6.0; });
  for (std::size_t i = 0; i < made.run.samples.size(); ++i) {
    if (made.run.samples[i].ray.p_SQ.norm() < 0.6) continue;
    made.run.depths[i].touched = false;
    made.run.depths[i].top_mm = kStockTop_mm;
  }
  for (Vector3d& tip : made.run.track.p_ST) tip = Vector3d::Zero();
  made.run.track.p_ST[4] = {kSide_mm / 25.4, 0.0, 0.0};
  const auto cause = CauseOf(made);
  ASSERT_TRUE(cause);
  EXPECT_EQ(cause->best.parts[0].kind, CauseKind::kUnits);
  // Nearly: the same with a path as long as the design is no matter of units.
  made.run.track.p_ST[4] = {kSide_mm, 0.0, 0.0};
  const auto other = CauseOf(made);
  EXPECT_TRUE(!other || other->best.parts[0].kind != CauseKind::kUnits);
}

// Nothing is said of a field within the limit of 0.3 mm; just beyond it, something is.
TEST(ProbableCauseTest, FieldWithinToleranceHasNoCause) {
  EXPECT_FALSE(CauseOf(FieldOf(Flat, [](double, double) { return -0.299; })));
  EXPECT_TRUE(CauseOf(FieldOf(Flat, [](double, double) { return -0.301; })));
}

// Ridges between passes stand on one side of the design; no set-up error made them.
TEST(ProbableCauseTest, RidgesAloneHaveNoCause) {
  for (const double pitch : {0.7, 1.9, 6.0}) {
    const auto phase = [pitch](double y) { return 2.0 * std::abs(y / pitch - std::round(y / pitch)); };
    EXPECT_FALSE(CauseOf(FieldOf(Flat, [&](double, double y) { return phase(y) * phase(y); }))) << pitch;
    EXPECT_FALSE(CauseOf(FieldOf(Flat, [&](double, double y) { return phase(y); }))) << pitch;
  }
}

// One deep gouge in a good field is no matter of set-up.
TEST(ProbableCauseTest, OneGougeHasNoCause) {
  EXPECT_FALSE(CauseOf(FieldOf(Flat, [](double x, double y) { return std::hypot(x - 5.0, y) < 5.0 ? -2.0 : 0.0; })));
}

}  // namespace
}  // namespace aircut::verify
