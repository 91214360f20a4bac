// Second opinion: distances of a general-purpose collision library (FCL 0.7).

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <memory>
#include <random>
#include <string>
#include <vector>

#include <fcl/geometry/bvh/BVH_model.h>
#include <fcl/geometry/shape/box.h>
#include <fcl/geometry/shape/capsule.h>
#include <fcl/geometry/shape/cylinder.h>
#include <fcl/math/bv/OBBRSS.h>
#include <fcl/narrowphase/distance.h>
#include <gtest/gtest.h>

#include "kinematics/units.h"
#include "sim/carrier_line.h"
#include "sim/cell_bodies.h"
#include "sim/collision_world.h"
#include "sim/mesh_index.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

// The library's convex search ends early on round faces, by up to a few 1e-4 mm;
// ours is held to far less by its own tests.
constexpr double kPeer_mm = 1e-3;
constexpr double kWitness_mm = 1e-6;

struct Twin {
  Shape ours;
  std::shared_ptr<fcl::CollisionGeometryd> theirs;
};

Twin Box(const Vector3d& size) {
  return {BoxShape{-0.5 * size, 0.5 * size}, std::make_shared<fcl::Boxd>(size)};
}

Twin Capsule(double radius_mm, double length_mm) {
  return {CapsuleShape{{0, 0, -0.5 * length_mm}, {0, 0, 0.5 * length_mm}, radius_mm},
          std::make_shared<fcl::Capsuled>(radius_mm, length_mm)};
}

Twin Cylinder(double radius_mm, double length_mm) {
  return {CylinderShape{{0, 0, -0.5 * length_mm}, {0, 0, 0.5 * length_mm}, radius_mm},
          std::make_shared<fcl::Cylinderd>(radius_mm, length_mm)};
}

Twin Triangles(const Mesh& mesh) {
  const auto model = std::make_shared<fcl::BVHModel<fcl::OBBRSSd>>();
  std::vector<fcl::Triangle> triangles;
  for (const auto& t : mesh.triangles) triangles.emplace_back(t[0], t[1], t[2]);
  model->beginModel();
  model->addSubModel(mesh.vertices, triangles);
  model->endModel();
  return {MeshShape{std::make_shared<const Mesh>(mesh)}, model};
}

double TheirDistance(const Twin& a, const Pose& X_WA, const Twin& b, const Pose& X_WB) {
  fcl::DistanceRequestd request;
  request.gjk_solver_type = fcl::GST_LIBCCD;
  request.distance_tolerance = 1e-8;
  fcl::DistanceResultd result;
  fcl::distance(a.theirs.get(), X_WA, b.theirs.get(), X_WB, request, result);
  return result.min_distance;
}

double Outside(const BoxShape& box, const Vector3d& p) {
  return (p - box.max).cwiseMax(box.min - p).maxCoeff();
}
double Outside(const CapsuleShape& c, const Vector3d& p) {
  const double t = std::clamp((p - c.from).dot(c.to - c.from) / (c.to - c.from).squaredNorm(), 0.0, 1.0);
  return (p - c.from - t * (c.to - c.from)).norm() - c.radius_mm;
}
double Outside(const CylinderShape& c, const Vector3d& p) {
  const double z = p.z(), r = std::hypot(p.x(), p.y());
  return std::max({c.from.z() - z, z - c.to.z(), r - c.radius_mm});
}
double Outside(const MeshShape& m, const Vector3d& p) {
  return MeshIndex(*m.mesh).ClosestPoint(p).distance_mm;
}
double Outside(const HalfSpaceShape& h, const Vector3d& p) { return p.z() - h.z_mm; }

double Outside(const HullShape& h, const Vector3d& p) { return Outside(MeshShape{h.mesh}, p); }

// How far a witness lies outside the body that it should lie on.
double Outside(const Twin& twin, const Pose& X_WT, const Vector3d& p_W) {
  const Vector3d p = X_WT.inverse() * p_W;
  return std::visit([&p](const auto& shape) { return Outside(shape, p); }, twin.ours);
}

// Two searches, one answer; and our witnesses lie on the bodies, by closed form.
void Compare(const Twin& a, const Twin& b, int poses, double reach_mm) {
  const CollisionWorld world({{"a", {a.ours}}, {"b", {b.ours}}});
  std::mt19937_64 rng(31);
  int compared = 0;
  for (int i = 0; i < poses; ++i) {
    const Pose X_WA = RandomPose(rng, reach_mm), X_WB = RandomPose(rng, 20);
    const PairDistance ours = world.Distance(0, X_WA, 1, X_WB);
    if (ours.distance_mm < 0.01) continue;   // overlap: the library gives no distance
    const double theirs = TheirDistance(a, X_WA, b, X_WB);
    ++compared;
    EXPECT_NEAR(theirs, ours.distance_mm, kPeer_mm) << "pose " << i;
    EXPECT_NEAR((ours.p_WA - ours.p_WB).norm(), ours.distance_mm, kWitness_mm) << "pose " << i;
    EXPECT_LE(Outside(a, X_WA, ours.p_WA), kWitness_mm) << "pose " << i;
    EXPECT_LE(Outside(b, X_WB, ours.p_WB), kWitness_mm) << "pose " << i;
  }
  EXPECT_GT(compared, poses / 4);
}

TEST(FclDistanceTest, BoxesAgree) { Compare(Box({30, 50, 20}), Box({40, 10, 60}), 500, 100); }

TEST(FclDistanceTest, CapsulesAgree) { Compare(Capsule(12, 60), Capsule(7, 40), 500, 100); }

TEST(FclDistanceTest, CapsuleAndBoxAgree) { Compare(Capsule(12, 60), Box({40, 30, 60}), 500, 100); }

TEST(FclDistanceTest, CylinderAndBoxAgree) { Compare(Cylinder(15, 60), Box({40, 30, 60}), 500, 100); }

TEST(FclDistanceTest, CylindersAgree) { Compare(Cylinder(15, 60), Cylinder(25, 20), 500, 100); }

TEST(FclDistanceTest, MeshesAgree) {
  Compare(Triangles(IcosphereMesh(25, 3)), Triangles(BoxMesh({-20, -30, -10}, {20, 30, 10})), 100, 100);
}

TEST(FclDistanceTest, MeshAndBoxAgree) {
  const auto wavy = [](double x, double y) { return 20 + 3 * std::sin(0.3 * x) * std::cos(0.2 * y); };
  const Twin board = Triangles(BoardMesh(60, 0, 30, wavy));
  Compare(Box({15, 10, 30}), board, 60, 110);
}

// A barrel of five rings of twelve corners, its flat sides cut into triangles.
Mesh Barrel() {
  constexpr int kRings = 5, kCorners = 12;
  Mesh mesh;
  for (int ring = 0; ring < kRings; ++ring) {
    const double up = 0.5 * ring - 1.0, radius = 30 * (1.0 - 0.5 * up * up);
    for (int k = 0; k < kCorners; ++k) {
      const double angle = 2 * kinematics::kPi * k / kCorners;
      mesh.vertices.emplace_back(radius * std::cos(angle), radius * std::sin(angle), 40 * up);
    }
  }
  const auto at = [](int ring, int k) { return ring * kCorners + k % kCorners; };
  for (int k = 0; k < kCorners; ++k) {
    for (int ring = 0; ring + 1 < kRings; ++ring) {
      mesh.triangles.push_back({at(ring, k), at(ring, k + 1), at(ring + 1, k + 1)});
      mesh.triangles.push_back({at(ring, k), at(ring + 1, k + 1), at(ring + 1, k)});
    }
    if (k == 0 || k == kCorners - 1) continue;
    mesh.triangles.push_back({at(0, 0), at(0, k + 1), at(0, k)});
    mesh.triangles.push_back({at(kRings - 1, 0), at(kRings - 1, k), at(kRings - 1, k + 1)});
  }
  return mesh;
}

// A hull against the triangles that it is the hull of.
TEST(FclDistanceTest, HullsAgree) {
  const Twin triangles = Triangles(Barrel());
  const Twin hull{HullShape{std::make_shared<const Mesh>(Barrel())}, triangles.theirs};
  Compare(hull, Box({40, 30, 60}), 200, 100);
  Compare(Box({15, 10, 30}), hull, 200, 100);
  const auto wavy = [](double x, double y) { return 20 + 3 * std::sin(0.3 * x) * std::cos(0.2 * y); };
  Compare(hull, Triangles(BoardMesh(60, 0, 30, wavy)), 40, 140);
}

// The demo cell in random configurations: every pair of shapes that must stay apart,
// 500 configurations; AIRCUT_CONFIGURATIONS asks for more. The board of triangles is
// tried in every hundredth one: there the library takes a millisecond for one distance.
class DemoCell {
 public:
  DemoCell() : job_(LoadJob(std::string(AIRCUT_SCENES) + "/transom/job.yaml", {})), line_(*job_.cell.arm),
               cell_(BodiesOf(job_, job_.cell.X_WS)) {
    for (const Body& body : cell_.bodies) {
      std::vector<Single> singles;
      for (const Shape& shape : body.shapes) singles.push_back(SingleOf(shape));
      singles_.push_back(std::move(singles));
    }
  }

  int ended_early() const { return ended_early_; }

  int Compare(std::mt19937_64& rng, bool with_board) const {
    kinematics::JointVector q(job_.cell.arm->joint_count());
    for (Eigen::Index j = 0; j < q.size(); ++j) {
      const auto& joint = job_.cell.arm->joints()[static_cast<std::size_t>(j)];
      q[j] = std::uniform_real_distribution<double>(joint.lower_rad, joint.upper_rad)(rng);
    }
    std::vector<Pose> X_WC;
    line_.AppendPoses(q, job_.cell.X_WB, &X_WC);
    int compared = 0;
    for (const ClearancePair& pair : cell_.pairs) compared += ComparePair(pair, X_WC, with_board);
    return compared;
  }

 private:
  struct Single {
    std::shared_ptr<fcl::CollisionGeometryd> theirs;       // null: a half space
    Shape shape;
    Pose X_BG = Pose::Identity();                          // of their geometry in the body
    bool board = false;
  };

  static Pose Along(const Vector3d& from, const Vector3d& to) {
    Pose X(Eigen::Translation3d(0.5 * (from + to)));
    X.rotate(Eigen::Quaterniond::FromTwoVectors(Vector3d::UnitZ(), to - from));
    return X;
  }

  static Single SingleOf(const Shape& shape) {
    Single out;
    out.shape = shape;
    if (const auto* c = std::get_if<CapsuleShape>(&shape)) {
      out.theirs = std::make_shared<fcl::Capsuled>(c->radius_mm, (c->to - c->from).norm());
      out.X_BG = Along(c->from, c->to);
    } else if (const auto* y = std::get_if<CylinderShape>(&shape)) {
      out.theirs = std::make_shared<fcl::Cylinderd>(y->radius_mm, (y->to - y->from).norm());
      out.X_BG = Along(y->from, y->to);
    } else if (const auto* b = std::get_if<BoxShape>(&shape)) {
      out.theirs = std::make_shared<fcl::Boxd>(Vector3d(b->max - b->min));
      out.X_BG = Pose(Eigen::Translation3d(0.5 * (b->min + b->max)));
    } else if (const auto* m = std::get_if<MeshShape>(&shape)) {
      out.theirs = Triangles(*m->mesh).theirs;
      out.board = true;
    }
    return out;
  }

  Pose PoseOf(int body, const std::vector<Pose>& X_WC) const {
    const BodyMount& mount = cell_.mounts[static_cast<std::size_t>(body)];
    if (mount.on == BodyMount::On::kWorld) return mount.X_MA;
    return X_WC[static_cast<std::size_t>(line_.CarrierOf(mount))] * mount.X_MA;
  }

  int ComparePair(const ClearancePair& pair, const std::vector<Pose>& X_WC, bool with_board) const {
    int compared = 0;
    const Pose X_WA = PoseOf(pair.a, X_WC), X_WB = PoseOf(pair.b, X_WC);
    for (const Single& a : singles_[static_cast<std::size_t>(pair.a)]) {
      for (const Single& b : singles_[static_cast<std::size_t>(pair.b)]) {
        if (!a.theirs || !b.theirs || ((a.board || b.board) && !with_board)) continue;
        const CollisionWorld world({{"a", {a.shape}}, {"b", {b.shape}}});
        const PairDistance ours = world.Distance(0, X_WA, 1, X_WB);
        if (ours.distance_mm < 0.05) continue;   // overlap: the library gives no distance
        const double theirs = TheirDistance({a.shape, a.theirs}, X_WA * a.X_BG, {b.shape, b.theirs}, X_WB * b.X_BG);
        EXPECT_GE(theirs, ours.distance_mm - kDemo_mm) << Names(pair);
        if (theirs > ours.distance_mm + kDemo_mm) {
          ShowOursNearer(ours, Outside({a.shape, a.theirs}, X_WA, ours.p_WA), Outside({b.shape, b.theirs}, X_WB, ours.p_WB));
        }
        ++compared;
      }
    }
    return compared;
  }

  // Once in a million pairs the library's search on a round face ends before the
  // nearest points. Two points, one on each body, that are nearer prove it.
  void ShowOursNearer(const PairDistance& ours, double outside_a_mm, double outside_b_mm) const {
    ++ended_early_;
    EXPECT_NEAR((ours.p_WA - ours.p_WB).norm(), ours.distance_mm, kWitness_mm);
    EXPECT_LE(outside_a_mm, kWitness_mm);
    EXPECT_LE(outside_b_mm, kWitness_mm);
  }

  std::string Names(const ClearancePair& pair) const {
    return cell_.bodies[static_cast<std::size_t>(pair.a)].name + " and " +
           cell_.bodies[static_cast<std::size_t>(pair.b)].name;
  }

  static constexpr double kDemo_mm = 1e-2;

  mutable int ended_early_ = 0;
  Job job_;
  CarrierLine line_;
  CellBodies cell_;
  std::vector<std::vector<Single>> singles_;   // per body
};

TEST(FclDistanceTest, DemoCellAgreesInRandomConfigurations) {
  const char* asked = std::getenv("AIRCUT_CONFIGURATIONS");
  const int configurations = asked ? std::atoi(asked) : 500;
  const DemoCell cell;
  std::mt19937_64 rng(33);
  int compared = 0;
  for (int i = 0; i < configurations; ++i) compared += cell.Compare(rng, i % 100 == 0);
  EXPECT_GT(compared, 50 * configurations);
  EXPECT_LE(cell.ended_early(), configurations / 1000);   // seen: 1 in 10,000 configurations
}

// Whether two bodies touch at all is the question that must never be wrong.
TEST(FclDistanceTest, OverlapAgreesForConvexShapes) {
  const std::vector<Twin> shapes{Box({30, 50, 20}), Capsule(12, 60), Cylinder(15, 60)};
  std::mt19937_64 rng(32);
  int overlaps = 0;
  for (int i = 0; i < 1500; ++i) {
    const Twin &a = shapes[i % 3], &b = shapes[i / 3 % 3];
    const Pose X_WA = RandomPose(rng, 50), X_WB = RandomPose(rng, 20);
    const CollisionWorld world({{"a", {a.ours}}, {"b", {b.ours}}});
    const double ours = world.Distance(0, X_WA, 1, X_WB).distance_mm;
    if (std::abs(ours) < kPeer_mm) continue;   // too near to touching to compare signs
    const double theirs = TheirDistance(a, X_WA, b, X_WB);
    EXPECT_EQ(ours < 0, theirs <= 0) << "pose " << i << " ours " << ours << " theirs " << theirs;
    overlaps += ours < 0 ? 1 : 0;
  }
  EXPECT_GT(overlaps, 200);
}

}  // namespace
}  // namespace aircut::sim
