#include "kinematics/forward_kinematics.h"

#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unsupported/Eigen/MatrixFunctions>

#include "tests/support/pose_near.h"
#include "tests/support/published_arms.h"
#include "tests/support/random_pose.h"

namespace aircut::kinematics {
namespace {

using support::kMm_m;
using support::PanelFromDeg;
using support::PoseNear;

// Rounding of a 2 m arm: 1e-12 m of the sources, and of a product of six rotations.
constexpr double kExact_mm = 1e-9;
constexpr double kExact_rad = 1e-12;

JointVector Panel(const std::vector<double>& q_rad) {
  return Eigen::Map<const Eigen::VectorXd>(q_rad.data(), static_cast<Eigen::Index>(q_rad.size()));
}

Pose PoseFromMetres(const Eigen::Matrix3d& R, const Eigen::Vector3d& p_m) {
  return MakePose(R, p_m * kMm_m);
}

/// @param xyzw quaternion, scalar last as the source prints it.
Pose PoseFromQuaternion(const Eigen::Vector3d& p_m, const Eigen::Vector4d& xyzw) {
  const Eigen::Quaterniond turn(xyzw[3], xyzw[0], xyzw[1], xyzw[2]);
  return PoseFromMetres(turn.normalized().toRotationMatrix(), p_m);
}

Eigen::Matrix3d Rows(const Eigen::Vector3d& x, const Eigen::Vector3d& y, const Eigen::Vector3d& z) {
  Eigen::Matrix3d R;
  R << x.transpose(), y.transpose(), z.transpose();
  return R;
}

// Source: KIN-02 to KIN-04 (table KIN-01; positions are sums of link lengths).
TEST(ForwardKinematicsTest, TableArmStandsWhereItsLinkLengthsSay) {
  const ArmModel arm = support::ArmE();
  const Eigen::Matrix3d level = Eigen::Matrix3d::Identity();
  const double quarter = kPi / 2;
  EXPECT_THAT(FlangePose(arm, Panel({0, 0, 0, 0, 0, 0})),
              PoseNear(PoseFromMetres(level, {.4521, -.15005, .4318}), kExact_mm, kExact_rad));
  EXPECT_THAT(FlangePose(arm, Panel({0, quarter, -quarter, 0, 0, 0})),
              PoseNear(PoseFromMetres(level, {.0203, -.15005, .8636}), kExact_mm, kExact_rad));
  const Pose stretched = FlangePose(arm, Panel({0, 0, -quarter, 0, 0, 0}));
  EXPECT_LT((stretched.translation() / kMm_m - Eigen::Vector3d(.8636, -.15005, -.0203)).norm(),
            1e-12);
  EXPECT_LT((stretched.linear().col(2) - Eigen::Vector3d::UnitX()).norm(), 1e-12);
}

// Source: KIN-05 to KIN-07 (table KIN-01), printed to six decimals of a metre.
TEST(ForwardKinematicsTest, TableArmMatchesPublishedGenericPoses) {
  const ArmModel arm = support::ArmE();
  constexpr double kPrint_mm = 1e-3, kPrint_rad = 2e-6;
  EXPECT_THAT(
      FlangePose(arm, PanelFromDeg({0, 45, 180, 0, 45, 0})),
      PoseNear(PoseFromMetres(Rows({0, 0, 1}, {0, 1, 0}, {-1, 0, 0}), {.596303, -.15005, -.014354}),
               kPrint_mm, kPrint_rad));
  EXPECT_THAT(
      FlangePose(arm, Panel({.1, .2, .3, .4, .5, .6})),
      PoseNear(PoseFromMetres(Rows({.121698, -.606672, -.785582}, {.818364, .509197, -.266456},
                                   {.561667, -.610465, .558446}),
                              {.247803, -.125940, .474458}),
               kPrint_mm, kPrint_rad));
  EXPECT_THAT(
      FlangePose(arm, PanelFromDeg({10, 20, 30, 40, 50, 60})),
      PoseNear(PoseFromMetres(Rows({-.636562, .022716, -.770891}, {.771180, .029596, -.635929},
                                   {.008369, -.999304, -.036357}),
                              {.112748, -.132484, .440791}),
               kPrint_mm, kPrint_rad));
}

// Source: KIN-14 (published table and named poses).
TEST(ForwardKinematicsTest, SecondTableArmReachesItsNamedPoses) {
  const ArmModel arm = support::ArmF();
  const Eigen::Vector3d level =
      FlangePose(arm, PanelFromDeg({0, -90, 180, 0, 0, -90})).translation();
  const Eigen::Vector3d down =
      FlangePose(arm, PanelFromDeg({0, -90, 90, 0, 90, -90})).translation();
  EXPECT_LT((level / kMm_m - Eigen::Vector3d(.515, 0, .712)).norm(), 1e-12);
  EXPECT_LT((down / kMm_m - Eigen::Vector3d(.135, 0, 1.092)).norm(), 1e-12);
}

// Source: KIN-18, 20, 21, 22, 24: open inverse-kinematics data set after
// Brandstoetter et al. 2014; position and quaternion printed to twelve decimals.
// (z of KIN-18 is misprinted in the list as .061496256560; the data set has .0614962585602.)
TEST(ForwardKinematicsTest, SphericalWristArmsMatchThePublishedCases) {
  constexpr double kPrint_mm = 1e-8, kPrint_rad = 1e-11;
  const ArmModel a = support::ArmA(), b = support::ArmB();
  EXPECT_THAT(FlangePose(a, PanelFromDeg({22, -160, 1, -21, -176, -173})),
              PoseNear(PoseFromQuaternion(
                           {-.758471908800, -.304150795324, .061496258560},
                           {.841295217372, -.036996728298, .484334143862, -.237221492305}),
                       kPrint_mm, kPrint_rad));
  EXPECT_THAT(FlangePose(a, PanelFromDeg({-129, 17, 74, -14, 74, -45})),
              PoseNear(PoseFromQuaternion(
                           {-.234521179521, -.258199827086, .509911791469},
                           {.454097513862, .650733535944, .599601877755, -.104013947601}),
                       kPrint_mm, kPrint_rad));
  EXPECT_THAT(FlangePose(a, PanelFromDeg({119, -8, 48, 138, -22, -35})),
              PoseNear(PoseFromQuaternion(
                           {-.326639386499, .633220535205, .862465021949},
                           {-.078723273275, .947851349983, .308789837425, .005413028989}),
                       kPrint_mm, kPrint_rad));
  EXPECT_THAT(FlangePose(b, PanelFromDeg({99, 124, 49, -169, -55, 82})),
              PoseNear(PoseFromQuaternion(
                           {.075650996012, .557573633045, .117888289125},
                           {-.366545940940, -.039250921859, -.031295719154, .929044679376}),
                       kPrint_mm, kPrint_rad));
  EXPECT_THAT(FlangePose(b, PanelFromDeg({-46, -155, 73, -111, 59, 78})),
              PoseNear(PoseFromQuaternion(
                           {-.228711072113, -.144678610507, .943665826646},
                           {-.442593946345, -.166499347063, .584840388058, .659052567390}),
                       kPrint_mm, kPrint_rad));
}

// Source: KIN-28: x = a1 + c3 + c4, z = c1 + c2 - a2, tool z along +x.
TEST(ForwardKinematicsTest, HomePosesAreSumsOfLinkLengths) {
  const JointVector level = PanelFromDeg({0, -90, 90, 0, 0, 0});
  const auto check = [](const Pose& X_BF, const Eigen::Vector3d& p_m) {
    EXPECT_LT((X_BF.translation() / kMm_m - p_m).norm(), 1e-12);
    EXPECT_LT((X_BF.linear().col(2) - Eigen::Vector3d::UnitX()).norm(), 1e-12);
  };
  check(FlangePose(support::ArmA(), JointVector::Zero(6)), {.94, 0, 1.455});
  check(FlangePose(support::ArmB(), level), {.47, 0, .75});
  check(FlangePose(support::ArmC(), level), {.89, 0, 1.08});
  check(FlangePose(support::ArmD(), level), {1.965, 0, 2.11});
}

// Source: KIN-29 (parameters KIN-15), printed to eight decimals of a metre.
TEST(ForwardKinematicsTest, LargeArmMatchesThePublishedPose) {
  EXPECT_THAT(FlangePose(support::ArmD(), PanelFromDeg({10, -80, 100, 20, 30, 40})),
              PoseNear(PoseFromMetres(Rows({-.63467185, -.46992563, .61348312},
                                           {-.73183227, .62048207, -.28182180},
                                           {-.24821999, -.62783112, -.73770924}),
                                      {2.04057534, -.39714285, 1.43827903}),
                       1e-5, 2e-8));
}

// Source: KIN-30, the open data set's test of the single link frames, with b != 0.
TEST(ForwardKinematicsTest, UprightArmHasItsLinkFramesOneAboveTheOther) {
  const SphericalWristParameters p =
      support::ParametersFromMetres({.15, .00017, .0002, .551, .552, .6, .11});
  const ArmModel arm = ArmModel::FromSphericalWrist(p, support::PlainJoints(6));
  const std::vector<Pose> links = LinkPoses(arm, JointVector::Zero(6));
  ASSERT_EQ(links.size(), 6u);
  const Eigen::Vector3d origins_m[] = {{0, 0, .551},
                                       {.15, .0002, .551},
                                       {.15, .0002, 1.103},
                                       {.15017, .0002, 1.103},
                                       {.15017, .0002, 1.703},
                                       {.15017, .0002, 1.813}};
  for (std::size_t i = 0; i < 6; ++i) {
    EXPECT_THAT(links[i], PoseNear(PoseFromMetres(Eigen::Matrix3d::Identity(), origins_m[i]),
                                   kExact_mm, kExact_rad))
        << "link " << i + 1;
  }
}

// Oracle: ISO-06, ISO 9787:2013 (from memory): base frame right-handed, z up from
// the mounting plane, x towards the middle of the work space; z of the mechanical
// interface points out of it, away from the wrist.
TEST(ForwardKinematicsTest, FramesFollowTheStandardForArms) {
  SphericalWristParameters p;
  p.a1_mm = 100;
  p.c1_mm = 400;
  p.c2_mm = 500;
  p.c3_mm = 600;
  p.c4_mm = 80;
  JointSpec joint;
  joint.lower_rad = -3;
  joint.upper_rad = 3;
  joint.speed_rad_s = joint.acceleration_rad_s2 = 1;
  const ArmModel arm = ArmModel::FromSphericalWrist(p, std::vector<JointSpec>(6, joint));
  std::mt19937_64 rng(9787);
  std::uniform_real_distribution<double> angle_rad(-3.0, 3.0);
  for (int i = 0; i < 200; ++i) {
    JointVector q(6);
    for (Eigen::Index j = 0; j < 6; ++j) q[j] = angle_rad(rng);
    const std::vector<Pose> links = LinkPoses(arm, q);
    const Pose& X_BF = links.back();
    EXPECT_NEAR(X_BF.linear().determinant(), 1.0, kExact_rad);
    const Eigen::Vector3d from_wrist = X_BF.translation() - links[4].translation();   // L5 sits in the wrist centre
    EXPECT_NEAR(from_wrist.dot(X_BF.linear().col(2)), p.c4_mm, kExact_mm);
  }
  const double up_mm = FlangePose(arm, Panel({0, 0, 0, 0, 0, 0})).translation().z();
  EXPECT_NEAR(up_mm, p.c1_mm + p.c2_mm + p.c3_mm + p.c4_mm, kExact_mm);
  EXPECT_GT(FlangePose(arm, Panel({0, 0.3, 0.3, 0, 0, 0})).translation().x(), p.a1_mm);
}

// Source: KIN-12, RTB-M (table of Armstrong, Khatib and Burdick 1986), poses derived from the
// table there, printed to four and six decimals of a metre; q = 0 is a sum of lengths.
TEST(ForwardKinematicsTest, ModifiedTableArmMatchesItsPublishedPoses) {
  const ArmModel arm = support::ArmG();
  EXPECT_THAT(FlangePose(arm, JointVector::Zero(6)),
              PoseNear(PoseFromMetres(Eigen::Matrix3d::Identity(), {.4115, .1501, .4331}),
                       kExact_mm, kExact_rad));
  const Pose X_BF = FlangePose(arm, Panel({.1, .2, .3, .4, .5, .6}));
  EXPECT_LT((X_BF.translation() / kMm_m - Eigen::Vector3d(.594969, .210550, .304028)).norm(), 1e-6);
  EXPECT_LT((X_BF.linear().row(0) - Eigen::RowVector3d(.121698, -.606672, .785582)).norm(), 1e-6);
}

// Source: KIN-36, RTB-P (a test of a seven-axis arm), printed to four decimals; the tool is
// turned by -45 deg and 103 mm long.
TEST(ForwardKinematicsTest, SevenAxisModifiedTableArmMatchesThePublishedPose) {
  constexpr double kPrint_mm = 0.1, kPrint_rad = 2e-4;
  const Pose X_BF = FlangePose(support::ArmH(), Panel({1, 2, 3, 4, 5, 6, 7}));
  EXPECT_LT((X_BF.translation() - Eigen::Vector3d(85.8, 313.2, 532.1)).norm(), kPrint_mm);
  const Pose X_FT = MakePose(Eigen::AngleAxisd(-kPi / 4, Eigen::Vector3d::UnitZ()).toRotationMatrix(),
                             {0, 0, 0}) *
                    Eigen::Translation3d(0, 0, 103);
  EXPECT_THAT(Pose(X_BF * X_FT),
              PoseNear(PoseFromMetres(Rows({-.8583, .1178, .4994}, {.1980, .9739, .1106},
                                           {-.4734, .1938, -.8593}),
                                      {.1372, .3246, .4436}),
                       kPrint_mm, kPrint_rad));
}

// Oracle: product of exponentials, by the general exponential of a 4x4 matrix: joints turn
// about the lines on which their axes lie with all joints at zero.
TEST(ForwardKinematicsTest, ChainFormIsTheProductOfExponentials) {
  std::mt19937_64 rng(33);
  for (int trial = 0; trial < 200; ++trial) {
    const int n = 1 + trial % kMaxJoints;
    std::vector<ChainJoint> chain;
    Pose X_BL = Pose::Identity();   // with all joints at zero
    std::vector<Eigen::Matrix4d> twists;
    for (int i = 0; i < n; ++i) {
      const ChainJoint joint{support::RandomPose(rng, 900),
                             support::RandomVector(rng, 1).normalized(),
                             support::RandomPose(rng, 900)};
      chain.push_back(joint);
      const Eigen::Vector3d w = X_BL.linear() * joint.before.linear() * joint.axis;
      const Eigen::Vector3d a = X_BL * joint.before.translation();
      Eigen::Matrix4d twist = Eigen::Matrix4d::Zero();
      twist.topLeftCorner<3, 3>() << 0, -w.z(), w.y(), w.z(), 0, -w.x(), -w.y(), w.x(), 0;
      twist.topRightCorner<3, 1>() = a.cross(w);
      twists.push_back(twist);
      X_BL = X_BL * joint.before * joint.after;
    }
    const ArmModel arm = ArmModel::FromChain(chain, support::PlainJoints(n));
    const JointVector q = support::RandomPanelValues(rng, arm);
    Eigen::Matrix4d product = Eigen::Matrix4d::Identity();
    for (int i = 0; i < n; ++i) {
      product *= Eigen::Matrix4d(twists[static_cast<std::size_t>(i)] * q[i]).exp();
    }
    const Pose expected(Eigen::Matrix4d(product * X_BL.matrix()));
    EXPECT_THAT(FlangePose(arm, q), PoseNear(expected, 1e-8, 1e-12)) << "trial " << trial;
  }
}

// Source: KIN-41: one arm in two conventions has one home pose.
TEST(ForwardKinematicsTest, BothFormsOfOneArmAgreeAtHome) {
  const SphericalWristParameters p =
      support::ParametersFromMetres({.07, 0, 0, .352, .36, .38, .065});
  const ArmModel arm = ArmModel::FromSphericalWrist(p, support::PlainJoints(6));
  const Eigen::Vector3d p_BF = FlangePose(arm, PanelFromDeg({0, 0, 90, 0, 0, 0})).translation();
  const Eigen::Vector3d p_BF_table =
      FlangePose(support::ArmF(), PanelFromDeg({0, -90, 180, 0, 0, -90})).translation();
  EXPECT_LT((p_BF / kMm_m - Eigen::Vector3d(.515, 0, .712)).norm(), 1e-12);
  EXPECT_LT((p_BF - p_BF_table).norm(), kExact_mm);
}

// Source: KIN-31 in kind: with parallel bars joint 2 leaves the forearm's direction alone;
// without them the tool turns by the angle of joint 2. (Ratio after the definition in joint.h.)
TEST(ForwardKinematicsTest, ParallelBarsKeepTheForearmLevel) {
  std::vector<JointSpec> joints = support::SampleArmJoints();
  const auto turn_rad = [&] {
    const ArmModel arm = ArmModel::FromSphericalWrist(support::SampleArmParameters(), joints);
    return support::AngleBetween(FlangePose(arm, PanelFromDeg({20, 10, 30, 40, 50, 60})).linear(),
                                 FlangePose(arm, PanelFromDeg({20, 20, 30, 40, 50, 60})).linear());
  };
  EXPECT_NEAR(turn_rad(), RadFromDeg(10), 1e-12);
  joints[2].follows = JointFollow{1, -1.0};
  EXPECT_NEAR(turn_rad(), 0.0, 1e-12);
}

// Oracle: product of homogeneous 4x4 matrices of the four elementary moves.
TEST(ForwardKinematicsTest, TableFormIsTheProductOfElementaryMoves) {
  std::mt19937_64 rng(31);
  for (int n = 1; n <= kMaxJoints; ++n) {
    std::vector<DhRow> rows(static_cast<std::size_t>(n));
    for (DhRow& row : rows) {
      row = {support::Draw(rng, -900, 900), support::Draw(rng, -3, 3),
             support::Draw(rng, -900, 900), support::Draw(rng, -3, 3)};
    }
    const ArmModel arm = ArmModel::FromDhStandard(rows, support::PlainJoints(n));
    const JointVector q = support::RandomPanelValues(rng, arm);
    Eigen::Matrix4d product = Eigen::Matrix4d::Identity();
    const std::vector<Pose> links = LinkPoses(arm, q);
    for (int i = 0; i < n; ++i) {
      const DhRow& row = rows[static_cast<std::size_t>(i)];
      const double ct = std::cos(q[i] + row.theta_offset_rad);
      const double st = std::sin(q[i] + row.theta_offset_rad);
      const double ca = std::cos(row.alpha_rad), sa = std::sin(row.alpha_rad);
      Eigen::Matrix4d A;
      A << ct, -st * ca, st * sa, row.a_mm * ct,  //
          st, ct * ca, -ct * sa, row.a_mm * st,   //
          0, sa, ca, row.d_mm,                    //
          0, 0, 0, 1;
      product *= A;
      EXPECT_LT((links[static_cast<std::size_t>(i)].matrix() - product).norm(), 1e-10);
    }
    EXPECT_THAT(FlangePose(arm, q), PoseNear(links.back(), 0.0, 0.0));
  }
}

// Oracle: the sentence in arm_model.h: the upright arm's axes are z, y, y, z, y, z.
TEST(ForwardKinematicsTest, SphericalWristLinksTurnAboutTheirNamedAxes) {
  const ArmModel arm =
      ArmModel::FromSphericalWrist(support::SampleArmParameters(), support::PlainJoints(6));
  const Eigen::Vector3d y = Eigen::Vector3d::UnitY(), z = Eigen::Vector3d::UnitZ();
  const Eigen::Vector3d axes[] = {z, y, y, z, y, z};
  for (std::size_t i = 0; i < 6; ++i) {
    JointVector q = JointVector::Zero(6);
    q[static_cast<Eigen::Index>(i)] = 0.3;
    const Pose X_BF = FlangePose(arm, q);
    const Eigen::Matrix3d expected = Eigen::AngleAxisd(0.3, axes[i]).toRotationMatrix();
    EXPECT_LT((X_BF.linear() - expected).norm(), 1e-14) << "joint " << i + 1;
  }
}

TEST(ForwardKinematicsTest, NotANumberInMakesNotANumberOut) {
  JointVector q = JointVector::Zero(6);
  q[3] = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(IsRigid(FlangePose(support::SampleArm(), q)));
  EXPECT_THROW(FlangePose(support::SampleArm(), JointVector::Zero(7)), std::invalid_argument);
  EXPECT_THROW(LinkPoses(support::SampleArm(), JointVector::Zero(5)), std::invalid_argument);
}

}  // namespace
}  // namespace aircut::kinematics
