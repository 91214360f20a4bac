#include "sim/displacement.h"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "kinematics/external_axes.h"
#include "kinematics/joint_compliance.h"
#include "sim/fixture_push.h"
#include "sim/springs.h"

namespace aircut::sim {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;
using kinematics::JointVector;
using kinematics::Phase;
using Ends = std::array<Eigen::Vector3f, kBandEnds>;

constexpr double kGravity_m_s2 = 9.80665;   // standard value
constexpr double kSteep = 0.70710678118654752;   // 45 degrees, as for plunges
constexpr double kLeastHeight_mm = 0.05;    // a force on the very point of a cutter has no lever to bend it

// Runs over all sweeps; each writes its own entry, so threads do not show.
template <typename Work>
void ForSweeps(const DisplacementTask& task, const Work& work) {
  tbb::task_arena arena(task.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, task.track.sweeps.size(), [&](std::size_t s) { work(s); });
  });
}

LayerShift Still(ErrorLayer layer, std::size_t sweeps) {
  return {layer, std::vector<Ends>(sweeps, Ends{Eigen::Vector3f::Zero(), Eigen::Vector3f::Zero(), Eigen::Vector3f::Zero()})};
}

Vector3d Mean(const SweepLoad& load, int end) {
  return load.mean_S_n[static_cast<std::size_t>(end)].cast<double>();
}

// Force times compliance at every end, the compliance off by a share either way.
Ends Given(const Matrix3d& C, const SweepLoad& load, double soft, double stiff) {
  return {(stiff * (C * Mean(load, kLeast))).cast<float>(), (C * Mean(load, kNominal)).cast<float>(),
          (soft * (C * Mean(load, kMost))).cast<float>()};
}

class Layers {
 public:
  explicit Layers(const DisplacementTask& task) : task_(task), cell_(task.job.cell) {}

  Displacements Compute() {
    const bool loaded = task_.load.force.has_value() && !task_.load.sweeps.empty();
    if (loaded) {
      Add(ErrorLayer::kArm, &Layers::Arm);
      Add(ErrorLayer::kSpindle, &Layers::Spindle);
      Add(ErrorLayer::kTool, &Layers::Tool);
      Add(ErrorLayer::kFixture, &Layers::Fixture);
    }
    Add(ErrorLayer::kLostMotion, &Layers::LostMotion);
    Add(ErrorLayer::kDrift, &Layers::Drift);
    return std::move(found_);
  }

 private:
  void Add(ErrorLayer layer, void (Layers::*reckon)()) {
    if (task_.without.count(layer) == 0) (this->*reckon)();
  }
  void Miss(ErrorLayer layer, std::string why, std::vector<std::string> needs) {
    found_.missing.push_back({layer, std::move(why), std::move(needs)});
  }
  std::size_t sweeps() const { return task_.track.sweeps.size(); }

  // A cutter that is drawn back along its axis leaves its groove: what it still shaves off
  // the walls does not push it.
  const SweepLoad* Bending(std::size_t s) const {
    const Vector3d way = task_.track.p_ST[s + 1] - task_.track.p_ST[s];
    const bool back = way.dot(task_.track.axis_S[s + 1]) > kSteep * way.norm();
    return back ? nullptr : task_.load.Of(s);
  }

  // Tip in F of the cutter that makes a sweep.
  Vector3d TipOf(std::size_t sweep) const {
    const TrackTool& tool = task_.track.tools[static_cast<std::size_t>(task_.track.sweeps[sweep].tool)];
    return cell_.X_FH * Vector3d(0, 0, -cell_.cutters.at(tool.number).measured_stick_out_mm);
  }
  // From A to S: the foot stands on what its axes carry, S on what the others do.
  Matrix3d TurnToWork(const JointVector& q) const {
    const Matrix3d R_SB = task_.X_WS_actual.linear().transpose() * cell_.X_WB.linear();
    if (cell_.arm->externals().empty()) return R_SB;
    const JointVector e = kinematics::ExternalPart(*cell_.arm, q);
    return R_SB * kinematics::TableMotion(*cell_.arm, e).linear().transpose() * kinematics::FootPose(*cell_.arm, e).linear();
  }

  void Arm() {
    const auto stiffness = ArmStiffnessOf(cell_);
    if (!stiffness) {
      return Miss(ErrorLayer::kArm, "How stiff the arm's joints are was not said.",
                  {"`arm.deflection_test`, or `arm.joints[].stiffness_nm_rad` of every joint"});
    }
    LayerShift shift = Still(ErrorLayer::kArm, sweeps());
    const double band = ArmBandOf(cell_);
    const std::vector<Vector3d> sags_S = Sags(*stiffness);
    ForSweeps(task_, [&](std::size_t s) {
      const SweepLoad* load = Bending(s);
      if (load == nullptr) return;
      const JointVector& q = task_.motion.q[s + 1];
      const Matrix3d R_SA = TurnToWork(q);
      const Matrix3d C_A = kinematics::JointCompliance(*cell_.arm, q, TipOf(s), TipOf(s), *stiffness);
      const double soft = 1 / (1 - band), stiff = 1 / (1 + band);
      shift.of_sweep[s] = Given(R_SA * C_A * R_SA.transpose(), *load, soft, stiff);
      shift.of_sweep[s][kLeast] += (stiff * sags_S[s]).cast<float>();
      shift.of_sweep[s][kNominal] += sags_S[s].cast<float>();
      shift.of_sweep[s][kMost] += (soft * sags_S[s]).cast<float>();
    });
    found_.layers.push_back(std::move(shift));
  }

  // By the weight that the flange carries, in S.
  Vector3d Sag(std::size_t s, const std::vector<double>& stiffness) const {
    const JointVector& q = task_.motion.q[s + 1];
    const Matrix3d R_SA = TurnToWork(q);
    const Vector3d down_S = -(task_.X_WS_actual.linear().transpose() * Vector3d::UnitZ());
    const Vector3d weight_A = R_SA.transpose() * (cell_.payload->tool_kg * kGravity_m_s2 * down_S);
    return R_SA * kinematics::JointCompliance(*cell_.arm, q, TipOf(s), *cell_.payload->centre_F, stiffness) * weight_A;
  }
  // Of every sweep that cuts, from their mean: what frame and piece were touched with is in
  // them already. Zero for all others.
  std::vector<Vector3d> Sags(const std::vector<double>& stiffness) const {
    std::vector<Vector3d> sags(sweeps(), Vector3d::Zero());
    if (!cell_.payload || !cell_.payload->centre_F) return sags;
    ForSweeps(task_, [&](std::size_t s) {
      if (task_.load.Of(s) != nullptr) sags[s] = Sag(s, stiffness);
    });
    Vector3d sum = Vector3d::Zero();
    for (const SweepLoad& load : task_.load.sweeps) sum += sags[static_cast<std::size_t>(load.sweep)];
    const Vector3d mean = sum / static_cast<double>(task_.load.sweeps.size());
    for (const SweepLoad& load : task_.load.sweeps) sags[static_cast<std::size_t>(load.sweep)] -= mean;
    return sags;
  }

  void Spindle() {
    if (!cell_.spindle_spring) return;   // given or not: part of the arm's own number where not
    LayerShift shift = Still(ErrorLayer::kSpindle, sweeps());
    ForSweeps(task_, [&](std::size_t s) {
      const SweepLoad* load = Bending(s);
      if (load == nullptr) return;
      const Vector3d& axis = task_.track.axis_S[s + 1];
      const Matrix3d along = axis * axis.transpose();
      const Matrix3d C = (Matrix3d::Identity() - along) / cell_.spindle_spring->radial_n_mm +
                         along / cell_.spindle_spring->axial_n_mm;
      shift.of_sweep[s] = Given(C, *load, 1.0, 1.0);
    });
    found_.layers.push_back(std::move(shift));
  }

  // One cutter's compliance hardly depends on where along a short bite the force is: it is
  // tabled by tenths of a millimetre.
  struct Cantilever {
    double soft_gpa = 0, nominal_gpa = 0, stiff_gpa = 0, stretch_mm_n = 0;
    std::vector<double> across_mm_n;   // per tenth of a millimetre above the tip, for 1 GPa
  };
  static constexpr double kStep_mm = 0.1;

  static Cantilever CantileverOf(const CellCutter& cutter) {
    Cantilever beam;
    beam.soft_gpa = cutter.modulus_gpa.value_or(kSoftModulus_gpa);
    beam.nominal_gpa = beam.soft_gpa;
    beam.stiff_gpa = cutter.modulus_gpa.value_or(kStiffModulus_gpa);
    beam.stretch_mm_n = CutterStretch_mm_n(cutter, 1.0);
    for (double z = 0; z < cutter.stick_out_mm; z += kStep_mm) {
      beam.across_mm_n.push_back(CutterCompliance_mm_n(cutter, 1.0, std::max(z, kLeastHeight_mm)));
    }
    return beam;
  }

  void Tool() {
    std::map<int, Cantilever> beams;
    for (const TrackTool& tool : task_.track.tools) beams[tool.number] = CantileverOf(cell_.cutters.at(tool.number));
    LayerShift shift = Still(ErrorLayer::kTool, sweeps());
    ForSweeps(task_, [&](std::size_t s) {
      const SweepLoad* load = Bending(s);
      if (load == nullptr) return;
      const TrackTool& tool = task_.track.tools[static_cast<std::size_t>(task_.track.sweeps[s].tool)];
      const Cantilever& beam = beams.at(tool.number);
      const auto step = static_cast<std::size_t>(std::max(0.0F, load->height_mm) / kStep_mm);
      const double across = beam.across_mm_n[std::min(step, beam.across_mm_n.size() - 1)];
      const Vector3d& axis = task_.track.axis_S[s + 1];
      const Matrix3d along = axis * axis.transpose();
      const Matrix3d C = across * (Matrix3d::Identity() - along) + beam.stretch_mm_n * along;   // for 1 GPa
      const Vector3d peak = load->peak_S_n[kMost].cast<double>();
      shift.of_sweep[s] = {(C * Mean(*load, kLeast) / beam.stiff_gpa).cast<float>(),
                           (C * Mean(*load, kNominal) / beam.nominal_gpa).cast<float>(),
                           (C * peak / beam.soft_gpa).cast<float>()};
    });
    found_.layers.push_back(std::move(shift));
  }

  void Fixture() {
    const auto spring = FixtureSpringOf(cell_);
    if (!spring) {
      return Miss(ErrorLayer::kFixture, "What the fixture gives was not said.",
                  {"`fixture.stiffness.push_test`: push along x, y and z at the height of the cut with a dial on the "
                   "piece; or `fixture.stiffness.n_per_mm`"});
    }
    for (const Vector3d& line : spring->untold()) {
      Miss(ErrorLayer::kFixture, fmt::format("The push test does not push along {}.", LineWord(line)),
           {fmt::format("`fixture.stiffness.push_test`: a push along {}", LineWord(line))});
    }
    MissBeyondPushes(*spring);
    LayerShift shift = Still(ErrorLayer::kFixture, sweeps());
    const double band = spring->band();
    ForSweeps(task_, [&](std::size_t s) {
      const SweepLoad* load = Bending(s);
      if (load == nullptr) return;
      const Matrix3d C = spring->ComplianceAt(task_.track.p_ST[s + 1]);
      shift.of_sweep[s] = Given(C, *load, 1 + band, std::max(0.0, 1 - band));
    });
    found_.layers.push_back(std::move(shift));
  }

  void MissBeyondPushes(const FixtureSpring& spring) {
    double low_mm = 0, high_mm = 0;
    int count = 0;
    for (const SweepLoad& load : task_.load.sweeps) {
      const Vector3d& tip = task_.track.p_ST[static_cast<std::size_t>(load.sweep) + 1];
      if (spring.Covers(tip)) continue;
      low_mm = count == 0 ? tip.z() : std::min(low_mm, tip.z());
      high_mm = count == 0 ? tip.z() : std::max(high_mm, tip.z());
      ++count;
    }
    if (count == 0) return;
    const auto& heights = spring.heights();
    Miss(ErrorLayer::kFixture,
         fmt::format("Cuts between z = {:.1f} and {:.1f} mm lie beyond the places that were pushed{}: rocking grows with "
                     "the square of height.", low_mm, high_mm,
                     heights ? fmt::format(" (z = {:g} to {:g} mm)", heights->first, heights->second) : ""),
         {fmt::format("`fixture.stiffness.push_test`: pushes at z = {:.0f} and {:.0f} mm, within {:g} mm of every cut",
                      low_mm, high_mm, FixtureSpring::kAside_mm)});
  }

  // Which way each joint went last, before or in the sweep; nothing: it has not moved.
  std::vector<std::vector<signed char>> LastWays() const {
    constexpr double kStands_rad = 1e-9;
    const std::size_t joints = cell_.arm->chain().size();
    std::vector<std::vector<signed char>> ways(sweeps(), std::vector<signed char>(joints, 0));
    for (std::size_t s = 0; s < sweeps(); ++s) {
      if (s > 0) ways[s] = ways[s - 1];
      for (std::size_t j = 0; j < joints; ++j) {
        const auto row = static_cast<Eigen::Index>(j);
        const double step = task_.motion.q[s + 1][row] - task_.motion.q[s][row];
        if (std::abs(step) > kStands_rad) ways[s][j] = step > 0 ? 1 : -1;
      }
    }
    return ways;
  }

  void LostMotion() {
    const auto lost_rad = LostMotionOf(cell_);
    if (!lost_rad) {
      return Miss(ErrorLayer::kLostMotion, "What motion the joints lose when they reverse was not said.",
                  {"`arm.joints[].lost_motion_arcmin` of every joint"});
    }
    const auto ways = LastWays();
    LayerShift shift = Still(ErrorLayer::kLostMotion, sweeps());
    ForSweeps(task_, [&](std::size_t s) {
      if (task_.motion.phase[s + 1] != Phase::kCut) return;
      std::vector<double> behind_rad = *lost_rad;
      for (std::size_t j = 0; j < behind_rad.size(); ++j) behind_rad[j] *= -0.5 * ways[s][j];
      const JointVector& q = task_.motion.q[s + 1];
      const Vector3d d_A = kinematics::JointShifts(*cell_.arm, q, TipOf(s), behind_rad).rowwise().sum();
      const Eigen::Vector3f d = (TurnToWork(q) * d_A).cast<float>();
      shift.of_sweep[s] = {Eigen::Vector3f::Zero(), d, d};
    });
    found_.layers.push_back(std::move(shift));
  }

  void Drift() {
    if (cell_.drift.empty()) return;
    LayerShift shift = Still(ErrorLayer::kDrift, sweeps());
    const Matrix3d R_SW = task_.X_WS_actual.linear().transpose();
    for (std::size_t s = 0; s < sweeps(); ++s) {
      if (task_.motion.phase[s + 1] != Phase::kCut) continue;
      const Eigen::Vector3f d = (R_SW * DriftAt(task_.motion.time_s[s + 1])).cast<float>();
      shift.of_sweep[s] = {d, d, d};
    }
    if (task_.motion.time_s.back() > cell_.drift.back().time_s) {
      Miss(ErrorLayer::kDrift,
           fmt::format("The drift test ends after {:.0f} min, the job after {:.0f}.", cell_.drift.back().time_s / 60,
                       task_.motion.time_s.back() / 60),
           {"`arm.drift_test`: a test as long as the job"});
    }
    found_.layers.push_back(std::move(shift));
  }

  Vector3d DriftAt(double time_s) const {
    const std::vector<DriftRow>& rows = cell_.drift;
    if (time_s <= rows.front().time_s) return rows.front().d_W;
    for (std::size_t i = 1; i < rows.size(); ++i) {
      const DriftRow &a = rows[i - 1], &b = rows[i];
      if (time_s <= b.time_s) return a.d_W + (b.d_W - a.d_W) * (time_s - a.time_s) / (b.time_s - a.time_s);
    }
    return rows.back().d_W;
  }

  const DisplacementTask& task_;
  const Cell& cell_;
  Displacements found_;
};

}  // namespace

Displacements ComputeDisplacements(const DisplacementTask& task) { return Layers(task).Compute(); }

std::vector<Vector3d> SumOf(const std::vector<LayerShift>& layers, BandEnd end, std::optional<ErrorLayer> but) {
  std::vector<Vector3d> sum;
  for (const LayerShift& layer : layers) {
    if (sum.empty()) sum.assign(layer.of_sweep.size(), Vector3d::Zero());
    if (but && layer.layer == *but) continue;
    for (std::size_t s = 0; s < sum.size(); ++s) sum[s] += layer.of_sweep[s][end].cast<double>();
  }
  return sum;
}

ToolTrack Displaced(const ToolTrack& track, const std::vector<Vector3d>& shift_S) {
  ToolTrack moved = track;
  for (std::size_t m = 0; m < moved.p_ST.size(); ++m) {
    const Vector3d before = m > 0 ? shift_S[m - 1] : Vector3d(Vector3d::Zero());
    const Vector3d after = m < shift_S.size() ? shift_S[m] : Vector3d(Vector3d::Zero());
    moved.p_ST[m] += before.squaredNorm() >= after.squaredNorm() ? before : after;
  }
  return moved;
}

}  // namespace aircut::sim
