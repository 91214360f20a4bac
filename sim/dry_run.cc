#include "sim/dry_run.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <memory>

#include <fmt/format.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>
#include <tbb/task_group.h>

#include "sim/cell_bodies.h"
#include "sim/choice_store.h"
#include "sim/contact_settling.h"
#include "sim/cut_lattice.h"
#include "sim/executed_loop.h"
#include "sim/executed_track.h"
#include "sim/input_error.h"
#include "sim/posture_clearance.h"
#include "sim/remaining_piece.h"
#include "sim/springs.h"
#include "sim/spindle_rates.h"
#include "sim/unreachable.h"

namespace aircut::sim {
namespace {

using kinematics::Pose;

class StageClock {
 public:
  StageClock(Run& run, const RunOptions& options, std::string stage)
      : run_(run), options_(options), stage_(std::move(stage)), start_(Clock::now()) {
    Tell(0.0);
  }
  ~StageClock() {
    run_.stage_s[stage_] = std::chrono::duration<double>(Clock::now() - start_).count();
  }
  void Tell(double fraction) const {
    if (options_.progress) options_.progress(stage_, fraction);
  }

 private:
  using Clock = std::chrono::steady_clock;
  Run& run_;
  const RunOptions& options_;
  std::string stage_;
  Clock::time_point start_;
};

// A stock that lies between voxel centres would not be there at all.
void RequireFineEnough(const Job& job, double resolution_mm) {
  const double thin_mm = job.stock_S->box().sizes().minCoeff();
  if (resolution_mm <= thin_mm) return;
  throw InputError(fmt::format(
      "resolution_mm = {:g} is coarser than the stock, {:g} mm at its thinnest: choose {:.3g} mm or finer "
      "(job key resolution_mm or option --resolution)", resolution_mm, thin_mm, thin_mm / 4.0));
}

void Locate(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "locate");
  std::vector<Eigen::Vector3d> touched_S;
  const Pose X_SW = job.cell.X_WS.inverse();
  for (const Eigen::Vector3d& p_W : job.cell.touched_W) touched_S.push_back(X_SW * p_W);
  if (!touched_S.empty()) run.location = LocatePiece(*job.stock_S, touched_S);
  run.X_WS_actual = job.cell.X_WS * run.location.X_SA;
}

// Believed values only: that is what the controller has.
kinematics::PlanRequest RequestOf(const Job& job) {
  const Cell& cell = job.cell;
  kinematics::PlanRequest request;
  request.arm = cell.arm.get();
  request.path = job.path;
  for (const auto& line : job.path) {
    const double stick_out = cell.cutters.at(line.tool).stick_out_mm;
    request.X_FT.push_back(cell.X_FH * Eigen::Translation3d(0.0, 0.0, -stick_out));
  }
  request.X_BS = cell.X_WB.inverse() * cell.X_WS;
  request.spin = job.spin;
  request.toward_S = job.spin_toward_S;
  request.freedom = job.spin_freedom;
  request.start_posture = job.runs.start_posture;
  request.stiffness_nm_rad = ArmStiffnessOf(cell).value_or(std::vector<double>{});
  request.controller = cell.controller;
  request.home = cell.home;
  request.external = job.external.at;
  request.external_free = job.external.is_free;
  request.external_samples = job.external.samples;
  request.approach = job.approach;
  request.retreat = job.retreat;
  request.tool_change = job.tool_change;
  return request;
}

void Plan(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "plan");
  kinematics::PlanRequest request = RequestOf(job);
  request.progress = [&](double fraction) { clock.Tell(fraction); };
  if (options.without.count(ErrorLayer::kCornerRounding) > 0) request.controller.corner = kinematics::CornerRule::kExactStop;
  const bool chooses = kinematics::HasFreedom(request);
  const auto room = chooses ? std::make_unique<PostureClearance>(job, run.X_WS_actual) : nullptr;
  if (chooses) {
    request.clearance_mm = [&room](const kinematics::JointVector& q, std::size_t path_index) {
      return room->Beyond_mm(q, path_index);
    };
  }
  if (options.keep_before_line) {
    request.kept = LoadChoice(options.resume.folder, request, *options.keep_before_line);
  }
  run.motion = kinematics::PlanMotion(request);
  if (!options.resume.folder.empty() && run.motion.complete()) {
    SaveChoice(options.resume.folder, request, run.motion);
  }
  run.executed = run.motion.complete();
  run.track = run.executed ? TrackFromMotion(job, run.motion.tracks[0], run.X_WS_actual)
                           : TrackFromPath(job, run.X_WS_actual);
}

CutOptions CutOptionsOf(const RunOptions& options) {
  CutOptions cut;
  cut.voxel_mm = options.resolution_mm;
  cut.threads = options.threads;
  return cut;
}

void Cut(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "cut");
  CutOptions cut = CutOptionsOf(options);
  cut.progress = [&](double fraction) { clock.Tell(fraction); };
  ResumedCut resumed = CutResumed(job.stock_S, run.track, cut, options.resume);
  run.cut = std::move(resumed.cut);
  run.sweeps_taken_up = resumed.taken_up;
  SettleContacts(run.track, cut, run.cut);
}

void Load(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "load");
  const SpindleRates rates = SpindleRatesOf(job, run);
  const auto force = job.material ? ForceBandOf(*job.material) : std::nullopt;
  run.load = ComputeCuttingLoad({run.track, run.cut.contact, rates, force, options.threads});
}

// A region that the design does not enter would be judged by nothing.
void RequireRegionsHoldSamples(const Job& job, const Run& run) {
  for (const AcceptRegion& region : job.accept.regions) {
    const auto in = [&](const DesignSample& s) { return region.Holds(s.ray.p_SQ); };
    if (std::any_of(run.samples.begin(), run.samples.end(), in)) continue;
    throw InputError(fmt::format("accept.regions: region {:.60} holds no place of the design, neither carved nor beside the "
                                 "cut: mend within, whose places are mm in the workpiece, or take the region out", region.name));
  }
}

std::vector<DepthRay> Sample(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "sample the design");
  run.sample_spacing_mm = 2.0 * options.resolution_mm;
  run.samples = SampleDesign(job, run.sample_spacing_mm, options.threads);
  RequireRegionsHoldSamples(job, run);
  std::vector<DepthRay> rays;
  rays.reserve(run.samples.size());
  for (const DesignSample& s : run.samples) rays.push_back(s.ray);
  return rays;
}

// From here on the run is that of the tool where it really is.
void Bend(const Job& job, const RunOptions& options, const std::vector<DepthRay>& rays, Run& run) {
  if (!run.executed) return;
  const StageClock clock(run, options, "bend");
  ExecutedCut executed = CutAsExecuted(job, options, run, rays);
  run.execution = std::move(executed.execution);
  run.depths = std::move(executed.depths);
  if (!run.execution.displaced()) return;
  run.track = std::move(executed.track);
  run.cut = std::move(executed.cut);
  run.load = std::move(executed.load);
  SettleContacts(run.track, CutOptionsOf(options), run.cut);
}

void MeasureDepth(const Job& job, const RunOptions& options, const std::vector<DepthRay>& rays, Run& run) {
  const StageClock clock(run, options, "depth");
  if (run.depths.empty()) run.depths = CutRays(*job.stock_S, run.track, rays, kFaceSlack_mm, options.threads);
  clock.Tell(0.9);
  run.grid_gaps = CompareGridAndRays(rays, run.depths, run.track, CutOptionsOf(options), run.cut.stock);
}

void LookForOutOfReach(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "reach of the cutters");
  run.unreachable_mm = HeightsOutOfReach(job, run, options.threads);
}

// Grid and rays share their sweeps: a third computation looks after both.
void Guard(const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "guard");
  constexpr int kGuarded = 1000;
  std::vector<CutterOutline> outlines;
  for (const TrackTool& tool : run.track.tools) outlines.push_back(tool.cutter.outline());
  const DepthInputs depth{run.track, outlines, run.samples, run.depths, run.grid_gaps};
  run.guard = GuardDepth(depth, kGuarded, options.threads);
  clock.Tell(0.8);
  run.convergence = FindConvergence(depth, options.resolution_mm, options.threads);
}

// Samples whose face no scan has seen, and the cut in space that none has seen.
void LookAtUnseen(const Job& job, const RunOptions& options, Run& run) {
  const std::vector<FaceOrigin>& origin = job.stock_faces.origin;
  if (origin.empty()) return;
  const StageClock clock(run, options, "unseen");
  run.unseen.assign(run.samples.size(), 0);
  tbb::task_arena arena(options.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, run.samples.size(), [&](std::size_t i) {
      if (!run.depths[i].has_material) return;
      const DepthRay& ray = run.samples[i].ray;
      const auto face = job.stock_S->ClosestPoint(ray.p_SQ + run.depths[i].stock_top_mm * ray.up_S).triangle;
      run.unseen[i] = origin[static_cast<std::size_t>(face)] == FaceOrigin::kGiven ? 0 : 1;
    });
  });
  if (job.stock_faces.back) run.unseen_cut = FindUnseenCut(job.stock_faces, run.cut.stock, run.track);
}

CutBody PieceOf(const Run& run, const RemainingPiece& remaining) {
  const auto piece = std::find(run.body_kinds.begin(), run.body_kinds.end(), BodyKind::kPiece);
  return {static_cast<int>(piece - run.body_kinds.begin()), &remaining};
}

void PlaceBodies(const Job& job, Run& run) {
  CellBodies cell = BodiesOf(job, run.X_WS_actual);
  run.world.emplace(std::move(cell.bodies));
  run.body_kinds = std::move(cell.kinds);
  run.body_mounts = std::move(cell.mounts);
  run.body_pairs = std::move(cell.pairs);
}

void MeasureClearance(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "clearance");
  if (!run.executed) return;
  TrackClearanceTask task{job, *run.world, run.body_mounts, options.threads};
  const RemainingPiece remaining(run.cut.stock);
  task.cut_body = PieceOf(run, remaining);
  ClearanceResult found = ClearancesAlong(task, run.motion.tracks[0], run.body_pairs);
  run.clearances = std::move(found.pairs);
  run.clearance_over_time = std::move(found.over_time);
}

// The commanded track is cut and its load told; then the tool is taken where it really
// is; then what comes of it is measured.
void CutAndMeasure(const Job& job, const RunOptions& options, const std::vector<DepthRay>& rays, Run& run) {
  Cut(job, options, run);
  Load(job, options, run);
  Bend(job, options, rays, run);
  MeasureDepth(job, options, rays, run);
  LookForOutOfReach(job, options, run);
  Guard(options, run);
  LookAtUnseen(job, options, run);
  MeasureClearance(job, options, run);
}

// What matters beside the cut is whether bodies touch, and whether the accepted clearance holds.
TrackClearanceTask CoarseTask(const Job& job, const RunOptions& options, const Run& run) {
  constexpr double kEnough_mm = 10.0;
  return {job, *run.world, run.body_mounts, options.threads, kEnough_mm};
}

// The slow pass goes before the first cut: it asks for the plan and the uncut piece
// alone, and is made while the cut is. It takes one thread; the cut takes what is left.
struct AirPassStage {
  std::optional<AirPass> air_pass;
  double stage_s = 0.0;
};

AirPassStage MakeAirPassBeside(const Job& job, const RunOptions& options, const Run& run) {
  if (!run.executed) return {};
  const auto start = std::chrono::steady_clock::now();
  const kinematics::PlanRequest request = RequestOf(job);
  AirPassStage stage;
  stage.air_pass = MakeAirPass({CoarseTask(job, options, run), run.body_pairs, run.body_kinds, request, run.motion});
  stage.stage_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  return stage;
}

// Runs `main` on this thread and `other` on one of the workers, which afterwards helps
// with what is left; one after the other where there is one thread.
template <typename Main, typename Other>
void DoBeside(int threads, const Main& main, const Other& other) {
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::task_group group;
    group.run(other);
    try {
      main();
    } catch (...) {
      group.cancel();
      group.wait();
      throw;
    }
    group.wait();
  });
}

// What goes on beside the cut: restarts and withdrawals, and the copies of the path that
// the job asks for.
void GoBeside(const Job& job, const RunOptions& options, Run& run) {
  const StageClock clock(run, options, "beside");
  run.path_copies = WritePathCopies(job, run.motion.complete() ? run.motion.R_ST_per_line
                                                               : std::vector<Eigen::Matrix3d>{});
  if (!run.executed) return;
  const kinematics::PlanRequest request = RequestOf(job);
  // Restarts meet what is left at their lines.
  const RemainingPiece remaining(run.cut.stock);
  TrackClearanceTask at_lines = CoarseTask(job, options, run);
  at_lines.cut_body = PieceOf(run, remaining);
  run.restarts = SolveRestarts({at_lines, run.body_pairs, run.body_kinds, request, run.motion});
  const std::vector<PairClearance>& beside = run.restarts->clearances;
  run.clearances.insert(run.clearances.end(), beside.begin(), beside.end());
}

}  // namespace

Run Execute(const Job& job, const RunOptions& options) {
  RequireFineEnough(job, options.resolution_mm);
  Run run;
  Locate(job, options, run);
  Plan(job, options, run);
  // Samples lie as close as the voxels: before they are spread it must be known that there is room.
  RefuseIfTooLarge(*job.stock_S, run.track, CutOptionsOf(options));
  const std::vector<DepthRay> rays = Sample(job, options, run);
  PlaceBodies(job, run);
  AirPassStage beside;
  DoBeside(options.threads, [&] { CutAndMeasure(job, options, rays, run); },
           [&] { beside = MakeAirPassBeside(job, options, run); });
  run.air_pass = std::move(beside.air_pass);
  run.stage_s["slow air pass"] = beside.stage_s;
  GoBeside(job, options, run);
  return run;
}

}  // namespace aircut::sim
