// Distances of a whole cell: seven links, each a hull of 60 corners, and a spindle
// against a table, ten boxes and a triangulated board (19,800 triangles): all 96
// pairs, each distance in full, nothing left out early. Ours against FCL. One thread.
// Every distance is checked against the other side's first.

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <random>
#include <vector>

#include <benchmark/benchmark.h>
#include <fcl/geometry/bvh/BVH_model.h>
#include <fcl/geometry/shape/box.h>
#include <fcl/geometry/shape/convex.h>
#include <fcl/geometry/shape/cylinder.h>
#include <fcl/math/bv/OBBRSS.h>
#include <fcl/narrowphase/distance.h>

#include "kinematics/units.h"
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
constexpr int kRings = 5, kCorners = 12; // of a link
constexpr double kLinkRadius_mm = 80, kLinkLength_mm = 400;
// Distances of the two sides may differ by this.
constexpr double kAgreement_mm = 0.01;
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

// A barrel of five rings of twelve corners; its flat sides are trapezoids.
Mesh Barrel() {
  Mesh mesh;
  for (int ring = 0; ring < kRings; ++ring) {
    const double up = 2.0 * ring / (kRings - 1) - 1.0, radius = kLinkRadius_mm * (1.0 - 0.5 * up * up);
    for (int k = 0; k < kCorners; ++k) {
      const double angle = 2 * kinematics::kPi * k / kCorners;
      mesh.vertices.emplace_back(radius * std::cos(angle), radius * std::sin(angle), 0.5 * up * kLinkLength_mm);
    }
  }
  return mesh;
}

// Its faces as FCL reads them: a count, then corners.
std::vector<int> BarrelFaces(int* count) {
  std::vector<int> faces{kCorners};
  for (int k = kCorners - 1; k >= 0; --k) faces.push_back(k);
  *count = 1;
  for (int ring = 0; ring + 1 < kRings; ++ring) {
    for (int k = 0; k < kCorners; ++k, ++*count) {
      const int next = (k + 1) % kCorners, low = ring * kCorners, high = low + kCorners;
      for (const int i : {4, low + k, low + next, high + next, high + k}) faces.push_back(i);
    }
  }
  faces.push_back(kCorners);
  for (int k = 0; k < kCorners; ++k) faces.push_back((kRings - 1) * kCorners + k);
  ++*count;
  return faces;
}

using Distances = std::vector<double>;

class OurCell {
 public:
  OurCell() : world_(Bodies()) {
    for (int k = 0; k < kBoxes; ++k) X_W_.push_back(BoxPose(k));
    X_W_.push_back(BoardPose());
  }

  Distances All(const Moment& moment) const {
    Distances distances;
    for (int a = 0; a < kMoving; ++a) {
      for (int b = 0; b < kStanding; ++b) {
        distances.push_back(world_.Distance(a, moment.X_WM[a], kMoving + b, X_W_[b]).distance_mm);
      }
    }
    return distances;
  }

 private:
  static std::vector<Body> Bodies() {
    std::vector<Body> bodies;
    const Vector3d spindle(0, 0, kSpindleLength_mm / 2);
    const auto barrel = std::make_shared<const Mesh>(Barrel());
    for (int k = 0; k < kLinks; ++k) bodies.push_back({"link", {HullShape{barrel}}});
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
    int count = 0;
    const auto faces = std::make_shared<const std::vector<int>>(BarrelFaces(&count));
    const auto corners = std::make_shared<const std::vector<Vector3d>>(Barrel().vertices);
    for (int k = 0; k < kLinks; ++k) Move(std::make_shared<fcl::Convexd>(corners, count, faces));
    Move(std::make_shared<fcl::Cylinderd>(kSpindleRadius_mm, kSpindleLength_mm));
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
  }

  Distances All(const Moment& moment) {
    Distances distances;
    for (int k = 0; k < kMoving; ++k) {
      Object& moving = *moving_[static_cast<std::size_t>(k)];
      moving.setTransform(moment.X_WM[static_cast<std::size_t>(k)]);
      for (const auto& standing : standing_) {
        fcl::DistanceRequestd request;
        request.gjk_solver_type = fcl::GST_LIBCCD;
        fcl::DistanceResultd result;
        distances.push_back(fcl::distance(&moving, standing.get(), request, result));
      }
    }
    return distances;
  }

 private:
  using Object = fcl::CollisionObjectd;
  void Move(std::shared_ptr<fcl::CollisionGeometryd> shape) {
    moving_.push_back(std::make_unique<Object>(std::move(shape)));
  }
  std::vector<std::unique_ptr<Object>> moving_, standing_;
};

void Ours(benchmark::State& state) {
  const OurCell cell;
  const auto moments = Moments(20);
  for (auto _ : state) {
    for (const Moment& moment : moments) benchmark::DoNotOptimize(cell.All(moment));
  }
  state.SetItemsProcessed(state.iterations() * 20);
}
BENCHMARK(Ours)->Name("CellDistance/ours")->Unit(benchmark::kMillisecond);

void Fcl(benchmark::State& state) {
  TheirCell cell;
  const OurCell ours;
  const auto moments = Moments(20);
  for (const Moment& moment : moments) {
    const Distances theirs = cell.All(moment), mine = ours.All(moment);
    for (std::size_t k = 0; k < mine.size(); ++k) {
      if (mine[k] <= 0 || std::abs(theirs[k] - mine[k]) <= kAgreement_mm) continue;
      std::fprintf(stderr, "distances of pair %zu differ: ours %.6f, theirs %.6f mm\n", k, mine[k], theirs[k]);
      std::abort();
    }
  }
  for (auto _ : state) {
    for (const Moment& moment : moments) benchmark::DoNotOptimize(cell.All(moment));
  }
  state.SetItemsProcessed(state.iterations() * 20);
}
BENCHMARK(Fcl)->Name("CellDistance/fcl")->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace aircut::sim
