#include "verify/report_solids.h"

#include <algorithm>
#include <cmath>

#include "verify/cell_scene.h"
#include "verify/mesh_thinning.h"
#include "verify/motion_faults.h"
#include "verify/report_json_parts.h"
#include "verify/report_text.h"

namespace aircut::verify {
namespace {

constexpr std::size_t kMostOfPiece = 26000;   // vertices; below 65,536, so that 16 bits name them
constexpr std::size_t kMostOfBody = 1500;
constexpr double kSteps = 65535.0;
constexpr int kNoStep = 127;

void Put16(std::vector<unsigned char>& bytes, std::uint32_t value) {
  bytes.push_back(static_cast<unsigned char>(value & 255));
  bytes.push_back(static_cast<unsigned char>(value >> 8 & 255));
}

Json MeshJson(const sim::Mesh& mesh) {
  Eigen::AlignedBox3d box;
  for (const Eigen::Vector3d& p : mesh.vertices) box.extend(p);
  const double step_mm = box.isEmpty() ? 1.0 : std::max(box.sizes().maxCoeff() / kSteps, 1e-9);
  std::vector<unsigned char> places, corners;
  for (const Eigen::Vector3d& p : mesh.vertices) {
    for (int axis = 0; axis < 3; ++axis) {
      Put16(places, static_cast<std::uint32_t>(std::lround((p[axis] - box.min()[axis]) / step_mm)));
    }
  }
  for (const auto& triangle : mesh.triangles) {
    for (const std::int32_t corner : triangle) Put16(corners, static_cast<std::uint32_t>(corner));
  }
  const Eigen::Vector3d low = box.isEmpty() ? Eigen::Vector3d::Zero().eval() : box.min();
  return {{"low_mm", PlaceJson(low)}, {"step_mm", step_mm}, {"v", Base64(places)}, {"i", Base64(corners)}};
}

// -4 deepest .. 0 within .. 4 highest, as DeviationScale.
int StepOf(float error_mm, const std::vector<ColourStep>& scale) {
  if (!std::isfinite(error_mm)) return kNoStep;
  const int middle = static_cast<int>(scale.size()) / 2;
  for (int s = 0; s < static_cast<int>(scale.size()); ++s) {
    if (error_mm <= scale[static_cast<std::size_t>(s)].to_mm) return s - middle;
  }
  return kNoStep;
}

Json PieceJson(const ReportContext& context, const PiecePicture& piece) {
  const ThinnedMesh thin = ThinnedTo(*piece.mesh_S, *piece.deviation_mm, kMostOfPiece);
  Json json = MeshJson(thin.mesh);
  const std::vector<ColourStep> scale = DeviationScale(context.job.accept.depth_mm.value);
  std::vector<unsigned char> steps;
  for (std::size_t i = 0; i < thin.mesh.vertices.size(); ++i) {
    const float error_mm = thin.value.empty() ? NAN : thin.value[i];
    steps.push_back(static_cast<unsigned char>(static_cast<signed char>(StepOf(error_mm, scale))));
  }
  json["d"] = Base64(steps);
  return json;
}

const char* KindWord(BodyKind kind) {
  switch (kind) {
    case BodyKind::kArm: return "arm";
    case BodyKind::kSpindle: return "spindle";
    case BodyKind::kHolder: return "holder";
    case BodyKind::kCutter: return "cutter";
    case BodyKind::kFixture: return "fixture";
    case BodyKind::kObstacle: return "obstacle";
  }
  return "";
}

// Stretches have no finer cells: bodies carry no values.
Json BodyJson(const DrawnBody& body) {
  Json json = MeshJson(ThinnedTo(body.mesh, {}, kMostOfBody).mesh);
  json["kind"] = KindWord(body.kind);
  json["name"] = body.name;
  return json;
}

const sim::CellCutter* CutterOf(const sim::Job& job) {
  if (job.path.empty()) return nullptr;
  const auto found = job.cell.cutters.find(job.path.front().tool);
  return found == job.cell.cutters.end() ? nullptr : &found->second;
}

std::string Hex(const Colour& c) {
  constexpr char kDigits[] = "0123456789abcdef";
  std::string text = "#";
  for (const std::uint8_t v : c) text += {kDigits[v >> 4], kDigits[v & 15]};
  return text;
}

}  // namespace

kinematics::JointVector JointsAt(const kinematics::MotionTrack& track, double time_s) {
  const auto after = std::upper_bound(track.time_s.begin(), track.time_s.end(), time_s);
  const auto next = static_cast<std::size_t>(after - track.time_s.begin());
  if (next == 0) return track.q.front();
  if (next >= track.size()) return track.q.back();
  const double step_s = track.time_s[next] - track.time_s[next - 1];
  const double part = step_s > 0 ? (time_s - track.time_s[next - 1]) / step_s : 0.0;
  return track.q[next - 1] + part * (track.q[next] - track.q[next - 1]);
}

Json SolidsJson(const ReportContext& context, const PiecePicture& piece, double time_s) {
  if (piece.mesh_S == nullptr || piece.deviation_mm == nullptr || piece.mesh_S->triangles.empty()) return nullptr;
  const sim::Job& job = context.job;
  Json solids = {{"piece", PieceJson(context, piece)}, {"bodies", Json::array()}, {"time_s", nullptr}};
  Json pose = Json::array();
  const bool moves = job.cell.arm && HasMoments(context.run);
  const Eigen::Matrix4d X_WS = context.run.X_WS_actual.matrix();
  for (int row = 0; row < 4; ++row) {
    for (int column = 0; column < 4; ++column) pose.push_back(X_WS(row, column));
  }
  solids["X_WS"] = std::move(pose);
  for (const ColourStep& step : DeviationScale(job.accept.depth_mm.value)) solids["scale"].push_back(Hex(step.colour));
  solids["other"] = Hex(DeviationColour(NAN, job.accept.depth_mm.value));
  if (!moves) return solids;
  solids["time_s"] = Finite(time_s);
  for (const DrawnBody& body : BodiesInWorld(job.cell, JointsAt(context.run.motion.tracks.front(), time_s), CutterOf(job))) {
    solids["bodies"].push_back(BodyJson(body));
  }
  return solids;
}

}  // namespace aircut::verify
