#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/input_error.h"
#include "sim/job.h"
#include "sim/outline_shapes.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using Eigen::Vector2d;
using test::TempFolder;
using test::TinyJob;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

constexpr double kTight = 1e-9;
constexpr const char* kRest =
    "flutes: 2, shank_diameter: 6, stick_out: 40, holder: none, hand: left, rpm_limit: 18000, modulus_gpa: 600";

Cell Load(const TinyJob& tiny) {
  const TempFolder folder;
  tiny.WriteTo(folder);
  return LoadCellFile((folder.path() / "tiny.cell.yaml").string(), {}).cell;
}

// The second cutter of the small cell, described by these keys.
TinyJob Second(const std::string& keys, const std::string& rest = kRest) {
  return TinyJob().Change("tiny.cell.yaml",
                          "{shape: flat, diameter: 8, flutes: 2, flute_length: 20, shank_diameter: 8, stick_out: 40, "
                          "holder: none, control_point: 'tip_end', hand: 'right'}",
                          "{" + keys + ", " + rest + "}");
}

CellCutter Cutter2(const std::string& keys) {
  return Load(Second(keys)).cutters.at(2);
}

void ExpectFault(const TinyJob& tiny, const std::string& place, const std::string& words) {
  EXPECT_THAT([&] { Load(tiny); }, ThrowsMessage<InputError>(AllOf(HasSubstr(place), HasSubstr(words))));
}

std::vector<Vector2d> Points(const CutterOutline& outline) {
  std::vector<Vector2d> points = {outline.pieces.front().from};
  for (const OutlinePiece& piece : outline.pieces) {
    EXPECT_EQ(piece.from, points.back());
    points.push_back(piece.to);
  }
  return points;
}

void ExpectPoints(const CutterOutline& outline, const std::vector<Vector2d>& expected, double tolerance = kTight) {
  const std::vector<Vector2d> points = Points(outline);
  ASSERT_EQ(points.size(), expected.size());
  for (std::size_t i = 0; i < points.size(); ++i) EXPECT_NEAR((points[i] - expected[i]).norm(), 0, tolerance) << i;
}

// Oracle: what the file says.
TEST(CutterYamlTest, EveryKeyOfACutterIsKept) {
  const CellCutter c = Cutter2("shape: bull_nose, diameter: 10, flute_length: 20, corner_radius: 2, control_point: tip_end, "
                               "measured: {stick_out: 40.1, diameter: 9.98, by: setter}");
  EXPECT_EQ(c.number, 2);
  EXPECT_EQ(c.flutes, 2);
  EXPECT_EQ(c.stick_out_mm, 40);
  EXPECT_EQ(c.measured_stick_out_mm, 40.1);
  EXPECT_TRUE(c.measured);
  EXPECT_EQ(c.measured_diameter_mm, 9.98);
  EXPECT_EQ(c.measured_by, "setter");
  EXPECT_EQ(c.modulus_gpa, 600);
  EXPECT_FALSE(c.right_handed);
  EXPECT_EQ(c.rpm_limit, 18000);
  EXPECT_EQ(c.cutter.outline().shape, "bull_nose");
  EXPECT_EQ(c.cutter.outline().diameter_mm, 10);
  EXPECT_EQ(c.cutter.outline().height_mm, 20);
}

TEST(CutterYamlTest, DiameterMayBeMeasuredAlone) {
  const CellCutter c = Cutter2("shape: flat, diameter: 8, flute_length: 20, control_point: tip_end, measured: {diameter: 7.9}");
  EXPECT_FALSE(c.measured);
  EXPECT_EQ(c.measured_stick_out_mm, 40);
  EXPECT_EQ(c.measured_diameter_mm, 7.9);
  ExpectFault(Second("shape: flat, diameter: 8, flute_length: 20, control_point: tip_end, measured: {by: me}"),
              "cutters.2.measured has no value", "write stick_out");
}

// Oracle: the drawing of each shape, by hand.
TEST(CutterYamlTest, OutlinesAreThoseOfTheDrawing) {
  const std::string tip = ", control_point: tip_end";
  const CutterOutline ball = Cutter2("shape: ball, diameter: 6, flute_length: 20" + tip).cutter.outline();
  ExpectPoints(ball, {{0, 0}, {3, 3}, {3, 20}});
  EXPECT_TRUE(ball.pieces[0].arc);
  EXPECT_EQ(ball.pieces[0].centre, Vector2d(0, 3));
  EXPECT_FALSE(ball.pieces[0].clockwise);
  ExpectPoints(Cutter2("shape: flat, diameter: 8, flute_length: 20" + tip).cutter.outline(), {{0, 0}, {4, 0}, {4, 20}});
  const CutterOutline bull = Cutter2("shape: bull_nose, diameter: 10, flute_length: 20, corner_radius: 2" + tip).cutter.outline();
  ExpectPoints(bull, {{0, 0}, {3, 0}, {5, 2}, {5, 20}});
  EXPECT_EQ(bull.pieces[1].centre, Vector2d(3, 2));
  // 90 degrees between the edges: as high as wide.
  ExpectPoints(Cutter2("shape: v, angle: 90, tip_flat: 1, diameter: 11, flute_length: 20" + tip).cutter.outline(),
               {{0, 0}, {0.5, 0}, {5.5, 5}, {5.5, 20}});
  ExpectPoints(Cutter2("shape: v, angle: 90, tip_radius: 0, diameter: 10, flute_length: 5" + tip).cutter.outline(), {{0, 0}, {5, 5}});
  const double s = std::sqrt(0.5);
  ExpectPoints(Cutter2("shape: v, angle: 90, tip_radius: 1, diameter: 10, flute_length: 20" + tip).cutter.outline(),
               {{0, 0}, {s, 1 - s}, {5, 1 - s + 5 - s}, {5, 20}});
  const CutterOutline tapered = Cutter2("shape: tapered_ball, angle: 90, tip_radius: 1, diameter: 10, flute_length: 20" + tip).cutter.outline();
  ExpectPoints(tapered, {{0, 0}, {s, 1 - s}, {5, 1 - s + 5 - s}, {5, 20}});
  EXPECT_EQ(tapered.shape, "tapered_ball");
}

// Independent path: the envelope that cuts has its surface on the outline.
TEST(CutterYamlTest, OutlineLiesOnTheEnvelopeThatCuts) {
  for (const char* keys : {"shape: ball, diameter: 6, flute_length: 20, control_point: tip_end",
                           "shape: v, angle: 60, tip_radius: 0.5, diameter: 8, flute_length: 20, control_point: tip_end"}) {
    const CellCutter c = Cutter2(keys);
    for (const OutlinePiece& piece : c.cutter.outline().pieces) {
      for (double t : {0.0, 0.3, 0.7, 1.0}) {
        Vector2d p = piece.from + t * (piece.to - piece.from);
        if (piece.arc) p = piece.centre + (p - piece.centre).normalized() * (piece.to - piece.centre).norm();
        EXPECT_NEAR(c.cutter.SignedDistance({p.x(), 0, p.y()}), 0, 1e-9) << keys << " " << p.transpose();
      }
    }
  }
}

// Oracle: geometry of the tip. Edges that make 60 degrees meet half a flat's width
// over tan 30 below it.
TEST(CutterYamlTest, ControlPointsAreHeightsAboveTheTipEnd) {
  EXPECT_EQ(Cutter2("shape: ball, diameter: 6, flute_length: 20, control_point: ball_centre").control_height_mm, 3);
  EXPECT_NEAR(Cutter2("shape: tapered_ball, angle: 10, tip_radius: 0.5, diameter: 3, flute_length: 20, control_point: ball_centre")
                  .control_height_mm, 0.5, kTight);
  EXPECT_NEAR(Cutter2("shape: v, angle: 60, tip_flat: 1, diameter: 6, flute_length: 20, control_point: sharp_apex").control_height_mm,
              -0.5 * std::sqrt(3.0), kTight);
  EXPECT_NEAR(Cutter2("shape: v, angle: 60, tip_radius: 0.5, diameter: 6, flute_length: 20, control_point: sharp_apex").control_height_mm,
              -0.5, kTight);
  EXPECT_NEAR(Cutter2("shape: v, angle: 60, tip_radius: 0, diameter: 6, flute_length: 20, control_point: sharp_apex").control_height_mm,
              0, kTight);
  ExpectFault(Second("shape: flat, diameter: 6, flute_length: 20, control_point: ball_centre"), "cutters.2.control_point",
              "does not go with shape flat: write tip_end");
  ExpectFault(Second("shape: ball, diameter: 6, flute_length: 20, control_point: sharp_apex"), "cutters.2.control_point",
              "write tip_end or ball_centre");
}

TEST(CutterYamlTest, OutlineOfAnyFormIsListedPointByPoint) {
  const CellCutter c = Cutter2("shape: outline, outline: [{to: [3, 3], arc_centre: [0, 3]}, {to: [3, 10]}, {to: [5, 12], arc_centre: [5, 10]}, "
                               "{to: [5, 20]}], control_point: tip_end");
  ExpectPoints(c.cutter.outline(), {{0, 0}, {3, 3}, {3, 10}, {5, 12}, {5, 20}});
  EXPECT_EQ(c.cutter.outline().diameter_mm, 10);
  EXPECT_EQ(c.cutter.outline().height_mm, 20);
  EXPECT_FALSE(c.cutter.outline().pieces[0].clockwise);
  EXPECT_TRUE(c.cutter.outline().pieces[2].clockwise);
}

// Oracle: other shapes are special cases. Ball, bull nose and a V with a round tip,
// whose bottom line and flank would meet at r tan(30 degrees) from the axis.
TEST(CutterYamlTest, SevenParametersDrawTheOtherShapes) {
  const auto seven = [](const std::string& list) {
    return Cutter2("shape: seven_parameters, parameters: [" + list + "], control_point: tip_end").cutter.outline();
  };
  ExpectPoints(seven("6, 3, 0, 3, 0, 0, 20"), {{0, 0}, {3, 3}, {3, 20}});
  ExpectPoints(seven("10, 2, 3, 2, 0, 0, 20"), {{0, 0}, {3, 0}, {5, 2}, {5, 20}});
  ExpectPoints(seven("8, 0, 4, 0, 0, 0, 20"), {{0, 0}, {4, 0}, {4, 20}});
  const double s = std::sqrt(3.0) / 2;   // tip 0.5, 60 degrees between the edges
  ExpectPoints(seven("0.57735027, 0.5, 0, 0.5, 0, 30, 20"), {{0, 0}, {0.5 * s, 0.25}, {0.5 * s + 19.75 / std::sqrt(3.0), 20}}, 1e-6);
  // A drill point of 118 degrees with a sharp corner.
  ExpectPoints(seven("10, 0, 5, 3.0043031, 31, 0, 20"), {{0, 0}, {5, 5 * std::tan(31 * std::acos(-1.0) / 180)}, {5, 20}});
  const auto fault = [](const std::string& list, const std::string& words) {
    ExpectFault(Second("shape: seven_parameters, parameters: [" + list + "], control_point: tip_end"), "cutters.2", words);
  };
  fault("6, 3, 0.5, 3, 0, 0, 20", "e = 0.5 must be 0, where the corner touches");
  fault("6, 3, 0, 2, 0, 0, 20", "f = 2 must be 3, where");
  fault("6, 3, 0, 3, 0, 0, 2", "h = 2 must be >= 3");
  fault("6, 4, -1, 4, 0, 0, 20", "r = 4 must be small enough");
  fault("6, 0, 3, 0, -5, 0, 20", "alpha = -5 must be at least 0");
  fault("6, 0, 3, 0, 0, -45, 20", "h = 20 must be low enough");
  fault("0, 0, 0, 0, 0, 0, 20", "d = 0 must be > 0");
  fault("6, 3, 0, 3, 0, 0", "parameters");
}

TEST(CutterYamlTest, OutlinesThatNoCutterHasAreRefused) {
  const auto listed = [](const std::string& points) {
    return Second("shape: outline, outline: [" + points + "], control_point: tip_end");
  };
  ExpectFault(listed("{to: [3, 3]}, {to: [4, 2]}"), "cutters.2", "point 2 lets z fall");
  ExpectFault(listed("{to: [-3, 3]}"), "cutters.2", "point 1 has r = -3, must be >= 0");
  ExpectFault(listed("{to: [3, 3], arc_centre: [0, 2]}"), "cutters.2", "radius 2 at one end and 3.16228 at the other");
  ExpectFault(listed("{to: [5, 0]}, {to: [3, 0]}, {to: [3, 9]}"), "cutters.2", "point 2 runs back");
  ExpectFault(listed("{to: [0, 4], arc_centre: [0, 2]}"), "cutters.2", "arc of half a turn");
  // A bulge that hangs below its two ends.
  ExpectFault(listed("{to: [2, 5]}, {to: [4, 5.5], arc_centre: [3, 5.25]}"), "cutters.2", "half a turn");
  ExpectFault(listed("{to: [2, 5]}, {to: [4, 5], arc_centre: [3, 6]}"), "cutters.2", "point 2 lets z fall");
  ExpectFault(listed("{to: [3, 0]}"), "cutters.2", "no width or no height");
  ExpectFault(listed("{to: [3, 3]}, {to: [3, 3]}"), "cutters.2", "point 2 is where the one before is");
  ExpectFault(Second("shape: outline, outline: [], control_point: tip_end"), "cutters.2", "no width or no height");
}

TEST(CutterYamlTest, KeysOfOtherShapesAndImpossibleSizesAreRefused) {
  const std::string tip = ", control_point: tip_end";
  ExpectFault(Second("shape: ball, diameter: 6, flute_length: 20, angle: 60" + tip), "cutters.2.angle", "does not go with shape ball");
  ExpectFault(Second("shape: outline, diameter: 6, outline: [{to: [3, 3]}]" + tip), "cutters.2.diameter", "does not go with shape outline");
  ExpectFault(Second("shape: v, angle: 60, tip_radius: 0.1, tip_flat: 0.1, diameter: 6, flute_length: 20" + tip), "cutters.2", "one of tip_radius");
  ExpectFault(Second("shape: v, angle: 60, diameter: 6, flute_length: 20" + tip), "cutters.2", "one of tip_radius");
  ExpectFault(Second("shape: bull_nose, corner_radius: 3, diameter: 6, flute_length: 20" + tip), "cutters.2", "corner_radius = 3 must be > 0 and below half");
  ExpectFault(Second("shape: v, angle: 60, tip_flat: 0, diameter: 6, flute_length: 20" + tip), "cutters.2.tip_flat = 0", "must be > 0");
  ExpectFault(Second("shape: v, angle: 180, tip_radius: 0, diameter: 6, flute_length: 20" + tip), "cutters.2", "between 0 and 180");
  // 60 degrees, 6 mm wide: the full diameter is reached 5.196 mm above the tip.
  ExpectFault(Second("shape: v, angle: 60, tip_radius: 0, diameter: 6, flute_length: 5" + tip), "cutters.2", "flute_length = 5 must be >= 5.19615");
  ExpectFault(Second("shape: tapered_ball, angle: 10, tip_radius: 0, diameter: 6, flute_length: 20" + tip), "cutters.2.tip_radius = 0", "> 0");
  ExpectFault(Second("shape: cone, diameter: 6, flute_length: 20" + tip), "cutters.2.shape = cone", "ball, flat, bull_nose, v, tapered_ball, seven_parameters or outline");
  ExpectFault(TinyJob().Change("tiny.cell.yaml", "  2: {", "  two: {"), "cutters.two", "whole number from 1 to 9999");
}

}  // namespace
}  // namespace aircut::sim
