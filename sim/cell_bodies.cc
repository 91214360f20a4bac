#include "sim/cell_bodies.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "sim/actual_cutter.h"
#include "sim/clearance_limits.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;
using Kind = BodyKind;

class BodyList {
 public:
  void Add(Kind kind, Body body, const BodyMount& mount) {
    if (body.shapes.empty()) return;
    out_.bodies.push_back(std::move(body));
    out_.mounts.push_back(mount);
    out_.kinds.push_back(kind);
  }

  CellBodies WithPairs(const Job& job) && {
    const ClearanceLimits limits(job);
    for (int a = 0; a < static_cast<int>(out_.kinds.size()); ++a) {
      for (int b = a + 1; b < static_cast<int>(out_.kinds.size()); ++b) {
        if (!MustStayApart(a, b) || NeverMeet(job.cell, a, b)) continue;
        out_.pairs.push_back({a, b, limits.Between(KindOf(a), KindOf(b)).total_mm()});
      }
    }
    return std::move(out_);
  }

 private:
  bool MustStayApart(int a, int b) const;
  bool NeverMeet(const Cell& cell, int a, int b) const {
    const std::string &name_a = out_.bodies[static_cast<std::size_t>(a)].name,
                      &name_b = out_.bodies[static_cast<std::size_t>(b)].name;
    return std::any_of(cell.never_meet.begin(), cell.never_meet.end(), [&](const auto& pair) {
      return (pair.first == name_a && pair.second == name_b) || (pair.first == name_b && pair.second == name_a);
    });
  }
  BodyKind KindOf(int i) const { return out_.kinds[static_cast<std::size_t>(i)]; }
  BodyMount::On CarrierOf(int i) const { return out_.mounts[static_cast<std::size_t>(i)].on; }
  bool Carried(int i) const { return CarrierOf(i) == BodyMount::On::kLink; }
  // The arm's foot stands in the world, but is a neighbour of link 1.
  bool OfArm(int i) const {
    const Kind kind = out_.kinds[static_cast<std::size_t>(i)];
    return Carried(i) || kind == Kind::kLink || kind == Kind::kHose;
  }
  int LinkOf(int i) const { return out_.mounts[static_cast<std::size_t>(i)].link; }

  CellBodies out_;
};

bool BodyList::MustStayApart(int a, int b) const {
  // Of two in the room, or on the work, nothing changes.
  if (!Carried(a) && CarrierOf(a) == CarrierOf(b)) return false;
  const Kind ka = out_.kinds[static_cast<std::size_t>(a)], kb = out_.kinds[static_cast<std::size_t>(b)];
  // A hose lies along the arm and gives way to it, but not to what stands still.
  if (ka == Kind::kHose || kb == Kind::kHose) return !(OfArm(a) && OfArm(b));
  if (OfArm(a) && OfArm(b)) {
    const int apart = LinkOf(a) - LinkOf(b);
    return apart > 1 || apart < -1;   // neighbours share a joint
  }
  if (!Carried(a) && !Carried(b)) return true;  // what a table turns meets what stands around it
  const Kind moving = Carried(a) ? ka : kb, standing = Carried(a) ? kb : ka;
  const int link = Carried(a) ? LinkOf(a) : LinkOf(b);
  const bool arm_foot = moving == Kind::kLink && link <= 1;
  if (standing == Kind::kFloor && arm_foot) return false;
  const bool meets_piece = moving == Kind::kTool || moving == Kind::kCutter;
  return !(standing == Kind::kPiece && meets_piece);
}

bool HasAxes(const Cell& cell, kinematics::ExternalSide side) {
  const auto& axes = cell.arm->externals();
  return std::any_of(axes.begin(), axes.end(), [side](const auto& axis) { return axis.side == side; });
}

BodyMount OnWorld(const Pose& X_WA) {
  BodyMount mount;
  mount.X_MA = X_WA;
  return mount;
}

// With the workpiece, wherever the axes under it carry it.
BodyMount OnWork(const Cell& cell, const Pose& X_WA) {
  if (!HasAxes(cell, kinematics::ExternalSide::kWork)) return OnWorld(X_WA);
  BodyMount mount;
  mount.on = BodyMount::On::kWork;
  mount.X_MA = cell.X_WB.inverse() * X_WA;
  return mount;
}

BodyMount OnLink(int link, const Pose& X_LA, int tool) {
  BodyMount mount;
  mount.on = BodyMount::On::kLink;
  mount.link = link;
  mount.X_MA = X_LA;
  mount.tool = tool;
  return mount;
}

// The foot stands in the room unless a track carries it.
BodyMount OnArm(const Cell& cell, int link) {
  const bool stands = link == 0 && !HasAxes(cell, kinematics::ExternalSide::kTool);
  return stands ? OnWorld(cell.X_WB) : OnLink(link, Pose::Identity(), 0);
}

Shape AlongAxis(double z0, double z1, double radius) {
  return CylinderShape{{0.0, 0.0, z0}, {0.0, 0.0, z1}, radius};
}

int FlangeOf(const Cell& cell) { return static_cast<int>(cell.arm->chain().size()); }

void AddTools(const Job& job, BodyList& list) {
  std::set<int> used;
  for (const auto& line : job.path) used.insert(line.tool);
  const int flange = FlangeOf(job.cell);
  for (const int number : used) {
    const CellCutter& c = job.cell.cutters.at(number);
    const Pose X_FT = job.cell.X_FH * Eigen::Translation3d(0.0, 0.0, -c.measured_stick_out_mm);
    const double flutes = c.cutter.flute_length_mm();
    Body tool{fmt::format("shank and holder of cutter {}", number), {}};
    const double nose = c.measured_stick_out_mm, longer = nose - c.stick_out_mm;
    if (nose > flutes) tool.shapes.push_back(AlongAxis(flutes, nose, 0.5 * c.shank_diameter_mm));
    for (const BodyCylinder& step : c.holder) {
      tool.shapes.push_back(AlongAxis(step.z0_mm + longer, step.z1_mm + longer, step.radius_mm));
    }
    list.Add(Kind::kTool, std::move(tool), OnLink(flange, X_FT, number));
    Body cutter{fmt::format("cutter {}", number), {AlongAxis(0.0, flutes, ActualCutter(c).radius_mm())}};
    list.Add(Kind::kCutter, std::move(cutter), OnLink(flange, X_FT, number));
  }
}

// What holds the piece stands with it: where the frame says, and where it was touched.
void AddHolding(const Job& job, const Pose& X_WS_actual, BodyList& list) {
  const Cell& cell = job.cell;
  const bool moved = !X_WS_actual.isApprox(cell.X_WS, 1e-9);
  const auto add = [&](Kind kind, const Body& body) {
    list.Add(kind, body, OnWork(cell, cell.X_WS));
    if (moved)
      list.Add(kind, {body.name + " where the piece was touched", body.shapes}, OnWork(cell, X_WS_actual));
  };
  add(Kind::kFixture, {"fixture", cell.fixture_S});
  for (std::size_t i = 0; i < cell.clamps.size(); ++i) {
    add(Kind::kClamp, {fmt::format("clamp {}", i + 1), cell.clamps[i].body_S});
  }
}

// The plane is z = 0 of its own frame, the restricted space below it.
Pose PoseOf(const RestrictedPlane& plane) {
  Pose X_WA(Eigen::Translation3d(plane.p_W));
  X_WA.rotate(Eigen::Quaterniond::FromTwoVectors(Eigen::Vector3d::UnitZ(), plane.inwards_W));
  return X_WA;
}

void AddHoses(const Cell& cell, BodyList& list) {
  for (const LinkBody& hose : cell.hose_bodies) {
    list.Add(Kind::kHose, {fmt::format("hose at link {}", hose.link), hose.shapes}, OnArm(cell, hose.link));
  }
}

}  // namespace

CellBodies BodiesOf(const Job& job, const Pose& X_WS_actual) {
  const Cell& cell = job.cell;
  BodyList list;
  for (const LinkBody& link : cell.links) {
    list.Add(Kind::kLink, {fmt::format("link {}", link.link), link.shapes}, OnArm(cell, link.link));
  }
  list.Add(Kind::kHousing, {"spindle housing", cell.housing_shapes_H}, OnLink(FlangeOf(cell), cell.X_FH, 0));
  list.Add(Kind::kHood, {"dust hood", cell.dust_hood_H}, OnLink(FlangeOf(cell), cell.X_FH, 0));
  AddTools(job, list);
  AddHoses(cell, list);
  AddHolding(job, X_WS_actual, list);
  for (const NamedBody& obstacle : cell.obstacles_W) {
    list.Add(Kind::kObstacle, {obstacle.name, obstacle.shapes}, OnWorld(Pose::Identity()));
  }
  for (const RestrictedPlane& plane : cell.restricted_W) {
    list.Add(Kind::kObstacle, {plane.name, {HalfSpaceShape{0.0}}}, OnWorld(PoseOf(plane)));
  }
  if (cell.floor_z_mm) {
    list.Add(Kind::kFloor, {"floor", {HalfSpaceShape{*cell.floor_z_mm}}}, OnWorld(Pose::Identity()));
  }
  const auto piece = std::make_shared<const Mesh>(job.stock_S->mesh());
  list.Add(Kind::kPiece, {"piece", {MeshShape{piece}}}, OnWork(cell, X_WS_actual));
  return std::move(list).WithPairs(job);
}

}  // namespace aircut::sim
