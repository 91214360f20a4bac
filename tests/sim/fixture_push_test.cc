// Oracles: a rigid body on four corner springs in closed form (statics of a block on
// springs), rows made from stated compliances, and faults made by hand.

#include "sim/fixture_push.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace aircut::sim {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;
using testing::HasSubstr;

constexpr double kRelative = 1e-9;   // a solve of well-scaled sums in double

// A block that stands at z = 0 on four springs at (+-a, +-b), each with the same
// stiffness across and upright.
struct CornerSprings {
  double a_mm = 60, b_mm = 40, across_n_mm = 500, upright_n_mm = 800;

  // Displacement at g by a unit force along d at p, by sums over the springs: force and
  // moment are carried by shift and turn of the block about the middle of its foot.
  Vector3d Shift(const Vector3d& p, const Vector3d& d, const Vector3d& g) const {
    const double kx = 4 * across_n_mm, kz = 4 * upright_n_mm;
    const Vector3d moment = p.cross(d);
    const Vector3d turn(moment.x() / (kz * b_mm * b_mm), moment.y() / (kz * a_mm * a_mm),
                        moment.z() / (kx * (a_mm * a_mm + b_mm * b_mm)));
    return Vector3d(d.x() / kx, d.y() / kx, d.z() / kz) + turn.cross(g);
  }
  double Across(double z_mm) const {   // along x, rocking about y
    return 1 / (4 * across_n_mm) + z_mm * z_mm / (4 * upright_n_mm * a_mm * a_mm);
  }
};

PushRow Row(int line, const Vector3d& p, const Vector3d& d, double force_n, double shown_mm) {
  PushRow row;
  row.line = line;
  row.p_S = row.p_SG = p;
  row.direction_S = d.normalized();
  row.force_n = force_n;
  row.displacement_mm = shown_mm;
  row.stands_on = "floor";
  return row;
}

PushRow RowOf(const CornerSprings& springs, const Vector3d& p, const Vector3d& d, double force_n) {
  return Row(2, p, d, force_n, force_n * d.normalized().dot(springs.Shift(p, d.normalized(), p)));
}

TEST(FixturePushTest, OnePushAlongEachAxisGivesOneStiffnessEach) {
  const FixtureSpring spring = FixtureSpring::FromPushes({Row(2, {0, 0, 80}, {1, 0, 0}, 50, 0.025),
                                                          Row(3, {0, 0, 80}, {0, -1, 0}, 50, 0.05),
                                                          Row(4, {0, 0, 80}, {0, 0, -1}, 50, 10.0)});
  EXPECT_EQ(spring.model(), PushModel::kPerDirection);
  const Matrix3d C = spring.ComplianceAt({0, 0, 80});
  EXPECT_NEAR(C(0, 0), 1.0 / 2000, kRelative);
  EXPECT_NEAR(C(1, 1), 1.0 / 1000, kRelative);
  EXPECT_NEAR(C(2, 2), 1.0 / 5, kRelative);   // a hand push of 50 N that moves it 10 mm: 5 N/mm
  EXPECT_EQ(LineWord(spring.SoftLines({0, 0, 80}).front()), "-z");
  EXPECT_TRUE(spring.untold().empty());
}

// Rocking: exact where it was pushed, on the soft side between, silent beyond.
TEST(FixturePushTest, BetweenPushedHeightsTheChordLiesOnTheSoftSide) {
  const CornerSprings springs;
  std::vector<PushRow> rows;
  for (const double z : {40.0, 100.0}) {
    rows.push_back(RowOf(springs, {0, 0, z}, {1, 0, 0}, 50));
    rows.push_back(RowOf(springs, {0, 0, z}, {0, 1, 0}, 50));
  }
  rows.push_back(RowOf(springs, {0, 0, 100}, {0, 0, 1}, 50));
  const FixtureSpring spring = FixtureSpring::FromPushes(rows);
  for (const double z : {40.0, 100.0}) EXPECT_NEAR(spring.ComplianceAt({0, 0, z})(0, 0), springs.Across(z), kRelative);
  for (const double z : {50.0, 70.0, 90.0}) EXPECT_GT(spring.ComplianceAt({0, 0, z})(0, 0), springs.Across(z));
  EXPECT_TRUE(spring.Covers({0, 0, 40 - FixtureSpring::kHeight_mm}));
  EXPECT_FALSE(spring.Covers({0, 0, 39.9 - FixtureSpring::kHeight_mm}));
  EXPECT_TRUE(spring.Covers({0, 0, 100 + FixtureSpring::kHeight_mm}));
  EXPECT_FALSE(spring.Covers({0, 0, 100.1 + FixtureSpring::kHeight_mm}));
  EXPECT_FALSE(spring.Covers({FixtureSpring::kAside_mm + 0.1, 0, 80}));
}

TEST(FixturePushTest, SixLinesAtOnePlaceGiveTheWholeMatrix) {
  const CornerSprings springs;
  const Vector3d p(30, -20, 70);
  std::vector<PushRow> rows;
  for (const Vector3d& d : {Vector3d(1, 0, 0), Vector3d(0, 1, 0), Vector3d(0, 0, 1), Vector3d(1, 1, 0),
                            Vector3d(1, 0, 1), Vector3d(0, 1, 1)}) {
    rows.push_back(RowOf(springs, p, d, 40));
  }
  const FixtureSpring spring = FixtureSpring::FromPushes(rows);
  EXPECT_EQ(spring.model(), PushModel::kPoint);
  for (int j = 0; j < 3; ++j) {
    EXPECT_NEAR((spring.ComplianceAt(p).col(j) - springs.Shift(p, Vector3d::Unit(j), p)).norm(), 0, kRelative);
  }
}

// A body on springs is told everywhere from pushes with dials at other places.
TEST(FixturePushTest, ManyPlacesGiveTheBodyOnItsSprings) {
  const CornerSprings springs;
  const std::vector<Vector3d> places = {{50, 30, 20}, {-50, 30, 60}, {50, -30, 100}, {-40, -30, 40}, {0, 10, 120}};
  std::vector<PushRow> rows;
  for (const Vector3d& p : places) {
    for (const Vector3d& way : {Vector3d(1, 0, 0), Vector3d(0, 1, 0), Vector3d(0, 0, 1), Vector3d(1, 1, 0),
                                Vector3d(1, 0, 1), Vector3d(0, 1, 1)}) {
      const Vector3d d = way.normalized();
      rows.push_back(RowOf(springs, p, d, 30));
      PushRow other = rows.back();
      other.p_SG = Vector3d(-p.y(), p.x(), 80);
      other.displacement_mm = 30 * d.dot(springs.Shift(p, d, other.p_SG));
      if (other.displacement_mm > 0) rows.push_back(other);
    }
  }
  const FixtureSpring spring = FixtureSpring::FromPushes(rows);
  ASSERT_EQ(spring.model(), PushModel::kRigidBody);
  const Vector3d q(17, -8, 90);
  for (int j = 0; j < 3; ++j) {
    EXPECT_NEAR((spring.ComplianceAt(q).col(j) - springs.Shift(q, Vector3d::Unit(j), q)).norm(), 0, kRelative);
  }
}

// Rows by hand: 20 and 50 N there, back at 20 N with 0.03 mm more, 0.02 mm stay.
TEST(FixturePushTest, HysteresisAndSlipAreThoseOfTheRows) {
  const std::vector<PushRow> rows = {Row(2, {0, 0, 0}, {1, 0, 0}, 20, 0.10), Row(3, {0, 0, 0}, {1, 0, 0}, 50, 0.25),
                                     Row(4, {0, 0, 0}, {1, 0, 0}, 20, 0.13), Row(5, {0, 0, 0}, {1, 0, 0}, 0, 0.02)};
  const std::vector<PushSeries> series = PushSeriesOf(rows);
  ASSERT_EQ(series.size(), 1u);
  EXPECT_NEAR(series[0].loading_mm_n, 0.005, kRelative);
  EXPECT_NEAR(*series[0].hysteresis_mm, 0.03, kRelative);
  EXPECT_NEAR(*series[0].slip_mm, 0.02, kRelative);
  EXPECT_NEAR(series[0].band(), 0.03 / 0.25, kRelative);
  // Back from (50, 0.25): differences (30, 0.12) and (50, 0.23), least squares by hand.
  EXPECT_NEAR(*series[0].unloading_mm_n, (30 * 0.12 + 50 * 0.23) / (30.0 * 30 + 50.0 * 50), kRelative);
}

// What a stiffer or softer return says: the softer one counts.
TEST(FixturePushTest, SofterWayCounts) {
  const auto series = PushSeriesOf({Row(2, {0, 0, 0}, {1, 0, 0}, 50, 0.25), Row(3, {0, 0, 0}, {1, 0, 0}, 0, -0.05)});
  EXPECT_NEAR(series[0].compliance_mm_n(), 0.006, kRelative);
}

TEST(FixturePushTest, LineThatWasNotPushedIsNamed) {
  const std::vector<PushRow> rows = {Row(2, {0, 0, 0}, {1, 0, 0}, 50, 0.25), Row(3, {0, 0, 0}, {0, 0, -1}, 50, 0.1)};
  EXPECT_FALSE(FindPushFault(rows).has_value());
  const FixtureSpring spring = FixtureSpring::FromPushes(rows);
  ASSERT_EQ(spring.untold().size(), 1u);
  EXPECT_EQ(LineWord(spring.untold()[0].cwiseAbs()), "y");
  EXPECT_EQ(spring.ComplianceAt({0, 0, 0})(1, 1), 0);
}

TEST(FixturePushTest, FaultsAreSentences) {
  const Vector3d p(0, 0, 0);
  const auto one_line = FindPushFault({Row(2, p, {0, 0, -1}, 50, 0.1), Row(7, p, {0, 0, -1}, 20, 0.05)});
  ASSERT_TRUE(one_line.has_value());
  EXPECT_EQ(one_line->line, 7);
  EXPECT_THAT(one_line->what, HasSubstr("every push goes along -z"));
  EXPECT_THAT(FindPushFault({Row(4, p, {1, 0, 0}, 50, -0.1)})->what, HasSubstr("-0.1 at 50 N, must be > 0"));
  EXPECT_THAT(FindPushFault({Row(4, p, {1, 0, 0}, 0, 0)})->what, HasSubstr("no row with a force"));
  EXPECT_THAT(FindPushFault({Row(4, p, {1, 0, 0}, 50, 0.1), Row(5, p, {1, 1, 0}, 50, 0.1)})->what,
              HasSubstr("neither square to each other"));
}

}  // namespace
}  // namespace aircut::sim
