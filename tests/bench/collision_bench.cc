// One distance question for a whole cell: seven links and a spindle against a
// table, ten boxes and a triangulated board (19,800 triangles), 88 pairs; the
// smallest distance is what is asked. Ours against FCL's broad phase.
// One thread. Both answers are checked against each other.

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <random>
#include <vector>

#include <benchmark/benchmark.h>
#include <fcl/broadphase/broadphase_dynamic_AABB_tree.h>
#include <fcl/broadphase/default_broadphase_callbacks.h>
#include <fcl/geometry/bvh/BVH_model.h>
#include <fcl/geometry/shape/box.h>
#include <fcl/geometry/shape/capsule.h>
#include <fcl/geometry/shape/cylinder.h>
#include <fcl/math/bv/OBBRSS.h>
#include <fcl/narrowphase/distance.h>

#include "sim/collision_world.h"
#include "tests/sim/sample_meshes.h"

namespace aircut::sim {
namespace {

using Eigen::Vector3d;
using kinematics::Pose;

constexpr int kLinks = 7;
constexpr int kMoving = kLinks + 1;      // and the spindle
constexpr int kBoxes = 11;               // the table is one of them
constexpr int kStanding = kBoxes + 1;    // and the board
constexpr double kLinkRadius_mm = 80, kLinkLength_mm = 400;
constexpr double kSpindleRadius_mm = 60, kSpindleLength_mm = 250;

double Top(double x, double y) { return 150 + 4 * std::sin(0.02 * x) * std::cos(0.03 * y); }

// Poses of one configuration: a chain that bends its way down to the board.
struct Moment {
  std::vector<Pose> X_WM;
};

std::vector<Moment> Moments(int count) {
  std::mt19937_64 rng(21);
  std::uniform_real_distribution<double> x(900, 1500), y(-300, 300), tilt(-0.2, 0.2);
  std::vector<Moment> moments;
  for (int i = 0; i < count; ++i) {
    const double px = x(rng), py = y(rng), a = tilt(rng);
    Moment moment;
    for (int k = 0; k < kLinks; ++k) {
      const double s = (k + 0.5) / kLinks;
      Pose X(Eigen::Translation3d(s * px, s * py, 900 + 500 * std::sin(3.0 * s)));
      X.rotate(Eigen::AngleAxisd(1.2 + a + 0.3 * k, Vector3d::UnitY()));
      moment.X_WM.push_back(X);
    }
    Pose X(Eigen::Translation3d(px, py, 150 + 50 + 10 + kSpindleLength_mm / 2));
    X.rotate(Eigen::AngleAxisd(a, Vector3d::UnitX()));
    moment.X_WM.push_back(X);
    moments.push_back(moment);
  }
  return moments;
}

Vector3d BoxSize(int k) {
  return k == 0 ? Vector3d(1000, 1000, 100) : Vector3d(80 + 10 * k, 60, 100 + 20 * k);
}
Pose BoxPose(int k) {
  if (k == 0) return Pose(Eigen::Translation3d(1200, 0, 50));
  return Pose(Eigen::Translation3d(700 + 100 * k, k % 2 == 0 ? 600 : -600, 100 + 10 * k));
}
Mesh BoardHere() { return BoardMesh(600, 100, 70, Top); }
Pose BoardPose() { return Pose(Eigen::Translation3d(900, -300, 0)); }

class OurCell {
 public:
  OurCell() : world_(Bodies()) {
    for (int k = 0; k < kBoxes; ++k) X_W_.push_back(BoxPose(k));
    X_W_.push_back(BoardPose());
  }

  double Smallest(const Moment& moment) const {
    double least = 1e30;
    for (int a = 0; a < kMoving; ++a) {
      for (int b = 0; b < kStanding; ++b) {
        const double d =
            world_.Distance(a, moment.X_WM[a], kMoving + b, X_W_[b], least).distance_mm;
        least = d < least ? d : least;
      }
    }
    return least;
  }

 private:
  static std::vector<Body> Bodies() {
    std::vector<Body> bodies;
    const Vector3d link(0, 0, kLinkLength_mm / 2), spindle(0, 0, kSpindleLength_mm / 2);
    for (int k = 0; k < kLinks; ++k) bodies.push_back({"link", {CapsuleShape{-link, link, kLinkRadius_mm}}});
    bodies.push_back({"spindle", {CylinderShape{-spindle, spindle, kSpindleRadius_mm}}});
    for (int k = 0; k < kBoxes; ++k) {
      bodies.push_back({"box", {BoxShape{-0.5 * BoxSize(k), 0.5 * BoxSize(k)}}});
    }
    bodies.push_back({"board", {MeshShape{std::make_shared<const Mesh>(BoardHere())}}});
    return bodies;
  }

  CollisionWorld world_;
  std::vector<Pose> X_W_;
};

class TheirCell {
 public:
  TheirCell() {
    using Object = fcl::CollisionObjectd;
    for (int k = 0; k < kLinks; ++k) {
      moving_.push_back(std::make_unique<Object>(std::make_shared<fcl::Capsuled>(kLinkRadius_mm, kLinkLength_mm)));
    }
    moving_.push_back(std::make_unique<Object>(std::make_shared<fcl::Cylinderd>(kSpindleRadius_mm, kSpindleLength_mm)));
    for (int k = 0; k < kBoxes; ++k) {
      standing_.push_back(std::make_unique<Object>(std::make_shared<fcl::Boxd>(BoxSize(k)), BoxPose(k)));
    }
    const Mesh mesh = BoardHere();
    const auto model = std::make_shared<fcl::BVHModel<fcl::OBBRSSd>>();
    std::vector<fcl::Triangle> triangles;
    for (const auto& t : mesh.triangles) triangles.emplace_back(t[0], t[1], t[2]);
    model->beginModel();
    model->addSubModel(mesh.vertices, triangles);
    model->endModel();
    standing_.push_back(std::make_unique<Object>(model, BoardPose()));
    for (auto& object : moving_) moving_tree_.registerObject(object.get());
    for (auto& object : standing_) standing_tree_.registerObject(object.get());
    moving_tree_.setup();
    standing_tree_.setup();
  }

  double Smallest(const Moment& moment) {
    for (int k = 0; k < kMoving; ++k) {
      moving_[k]->setTransform(moment.X_WM[k]);
      moving_[k]->computeAABB();
    }
    moving_tree_.update();
    fcl::DefaultDistanceData<double> data;
    data.request.gjk_solver_type = fcl::GST_LIBCCD;
    moving_tree_.distance(&standing_tree_, &data, fcl::DefaultDistanceFunction<double>);
    return data.result.min_distance;
  }

 private:
  std::vector<std::unique_ptr<fcl::CollisionObjectd>> moving_, standing_;
  fcl::DynamicAABBTreeCollisionManagerd moving_tree_, standing_tree_;
};

void Ours(benchmark::State& state) {
  const OurCell cell;
  const auto moments = Moments(50);
  for (auto _ : state) {
    for (const Moment& moment : moments) benchmark::DoNotOptimize(cell.Smallest(moment));
  }
  state.SetItemsProcessed(state.iterations() * 50);
}
BENCHMARK(Ours)->Name("CellDistance/ours")->Unit(benchmark::kMillisecond);

void Fcl(benchmark::State& state) {
  TheirCell cell;
  const OurCell ours;
  const auto moments = Moments(50);
  for (const Moment& moment : moments) {
    const double theirs = cell.Smallest(moment), mine = ours.Smallest(moment);
    if (mine > 0 && std::abs(theirs - mine) > 0.1) {
      std::fprintf(stderr, "distances differ: ours %.6f, theirs %.6f mm\n", mine, theirs);
      std::abort();
    }
  }
  for (auto _ : state) {
    for (const Moment& moment : moments) benchmark::DoNotOptimize(cell.Smallest(moment));
  }
  state.SetItemsProcessed(state.iterations() * 50);
}
BENCHMARK(Fcl)->Name("CellDistance/fcl")->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace aircut::sim
