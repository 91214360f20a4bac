#include "kinematics/law_assembly.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <gtest/gtest.h>

#include "tests/kinematics/planner_scene.h"

namespace aircut::kinematics {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr int kJoints = 6;

/// A way of cubics through random places; rates are the same from piece to piece.
struct RandomWay {
  std::vector<LawPiece> pieces;
};

// Sharp: joints turn round within a piece, as on a narrow rounded corner.
RandomWay SharpWay(const unsigned seed, const int count) {
  std::mt19937 rng(seed);
  std::uniform_real_distribution<double> part(-1.0, 1.0);
  const auto random_vector = [&](const double size) {
    JointVector v(kJoints);
    for (Eigen::Index j = 0; j < kJoints; ++j) v[j] = size * part(rng);
    return v;
  };
  RandomWay way;
  JointVector q = JointVector::Zero(kJoints), rates = random_vector(0.02);
  for (int i = 0; i < count; ++i) {
    LawPiece piece;
    piece.length = 0.6 + 0.5 * part(rng);
    piece.q_from = q;
    piece.rates_from = rates;
    piece.rates_to = random_vector(0.02);
    piece.q_to = q + piece.length * (0.5 * (rates + piece.rates_to) + random_vector(0.004));
    piece.written_speed = i % 3 == 0 ? kInfinity : 40.0;
    piece.move_length = piece.length;
    piece.tip_from = piece.tip_to = 1.0;
    piece.least_parts = 2;
    q = piece.q_to;
    rates = piece.rates_to;
    way.pieces.push_back(piece);
  }
  return way;
}

struct Solved {
  LawAssembly::Result result;
  double length = 0.0;
};

Solved Solve(const ArmModel& arm, const ControllerRules& rules, const RandomWay& way) {
  const Eigen::Vector3d p_FT(0, 0, 100);
  LawAssembly law(arm, rules, std::nullopt, &p_FT);
  law.Stand();
  Solved solved;
  for (const LawPiece& piece : way.pieces) {
    law.AddPiece(piece);
    law.EndMove();
    solved.length += piece.length;
  }
  solved.result = law.Solve();
  return solved;
}

/// Acceleration of joint j over its limit at `s` of a piece.
double AccelerationShare(const ArmModel& arm, const LawPiece& piece, const double s, const double x,
                         const double u) {
  // Hermite's cubic, written out on its own.
  const double h = piece.length, t = s / h;
  double most = 0.0;
  for (Eigen::Index j = 0; j < kJoints; ++j) {
    const double q0 = piece.q_from[j], q1 = piece.q_to[j];
    const double m0 = h * piece.rates_from[j], m1 = h * piece.rates_to[j];
    const double slope = ((6 * t * t - 6 * t) * (q0 - q1) + (3 * t * t - 4 * t + 1) * m0 +
                          (3 * t * t - 2 * t) * m1) / h;
    const double bend = ((12 * t - 6) * (q0 - q1) + (6 * t - 4) * m0 + (6 * t - 2) * m1) / (h * h);
    const double limit = arm.joints()[static_cast<std::size_t>(j)].acceleration_rad_s2;
    most = std::fmax(most, std::abs(slope * u + bend * x) / limit);
  }
  return most;
}

// Property: joint accelerations hold within 0.5 % between the nodes of the law,
// however sharply the joints turn. Seen on a fine grid, from times and speeds alone.
TEST(LawAssemblyTest, JointAccelerationsHoldBetweenNodesOnSharpWays) {
  const ArmModel arm = InventedArm::Make();
  for (unsigned seed = 1; seed <= 6; ++seed) {
    const RandomWay way = SharpWay(seed, 25);
    const Solved solved = Solve(arm, {}, way);
    const LawAssembly::Result& law = solved.result;
    double begin = 0.0, most = 0.0, piece_begin = 0.0;
    std::size_t p = 0;
    for (std::size_t i = 1; i < law.time_s.size(); ++i) {
      const double dt = law.time_s[i] - law.time_s[i - 1];
      const double length = 0.5 * dt * (law.speed[i] + law.speed[i - 1]);
      const double u = (law.speed[i] - law.speed[i - 1]) / dt;
      while (begin > piece_begin + way.pieces[p].length - 1e-9) piece_begin += way.pieces[p++].length;
      for (int k = 0; k <= 20; ++k) {
        const double s = begin - piece_begin + length * k / 20;
        const double x = std::pow(law.speed[i - 1], 2) + 2.0 * u * length * k / 20;
        most = std::fmax(most, AccelerationShare(arm, way.pieces[p], s, x, u));
      }
      begin += length;
    }
    EXPECT_NEAR(begin, solved.length, 1e-6) << "seed " << seed;
    EXPECT_LE(most, 1.005) << "seed " << seed;
    EXPECT_GT(most, 0.99) << "seed " << seed << ": nothing was at its limit";
  }
}

// Property: a law with more rules is never faster; each from the same way.
TEST(LawAssemblyTest, ThreeReadingsOfTheControlFallInOrder) {
  const ArmModel arm = InventedArm::Make();
  ControllerRules rules;
  rules.look_ahead_moves = 2;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    const LawAssembly::Result law = Solve(arm, rules, SharpWay(seed, 30)).result;
    const double modelled_s = law.time_s.back();
    EXPECT_LE(law.ideal_s, modelled_s * (1 + 1e-12)) << "seed " << seed;
    EXPECT_LE(modelled_s, law.stop_each_s * (1 + 1e-12)) << "seed " << seed;
    rules.look_ahead_moves = 1;
    const LawAssembly::Result alone = Solve(arm, rules, SharpWay(seed, 30)).result;
    EXPECT_NEAR(alone.time_s.back(), alone.stop_each_s, 1e-9 * alone.stop_each_s) << "seed " << seed;
    rules.look_ahead_moves = 2;
  }
}

TEST(LawAssemblyTest, NoWayTakesNoTime) {
  const ArmModel arm = InventedArm::Make();
  const LawAssembly::Result law = Solve(arm, {}, {}).result;
  EXPECT_TRUE(law.time_s.empty());
  EXPECT_EQ(law.stop_each_s, 0.0);
}

}  // namespace
}  // namespace aircut::kinematics
