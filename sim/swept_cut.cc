#include "sim/swept_cut.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>
#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include "sim/brick_run.h"
#include "sim/cut_lattice.h"
#include "sim/large_blocks.h"
#include "sim/reach_gauge.h"

namespace aircut::sim {
namespace {

using Eigen::AlignedBox3d;
using Eigen::Vector3d;
using Eigen::Vector3i;

void CheckRequest(const ToolTrack& track, const CutOptions& options) {
  const std::size_t n = track.time_s.size();
  const bool agree = track.p_ST.size() == n && track.axis_S.size() == n &&
                     track.sweeps.size() + 1 == std::max<std::size_t>(n, 1);
  if (!agree) throw std::invalid_argument("ToolTrack: moments and sweeps do not agree in number");
  if (!(options.voxel_mm > 0.0) || !std::isfinite(options.voxel_mm)) {
    throw std::invalid_argument(fmt::format("voxel_mm = {} must be > 0", options.voxel_mm));
  }
  if (options.threads < 1) {
    throw std::invalid_argument(fmt::format("threads = {} must be >= 1", options.threads));
  }
  std::int32_t before = options.from ? options.from->stop : 0;
  for (const std::int32_t stop : options.keep_before) {
    if (stop < before || stop > static_cast<std::int32_t>(track.sweeps.size())) {
      throw std::invalid_argument(fmt::format("keep_before: {} is out of order or of the track", stop));
    }
    before = stop;
  }
}

// 1 = material or surface near, 0 = surely air all over the brick.
std::vector<BrickFill> Classify(const MeshIndex& solid, const Lattice& lattice,
                                 const std::vector<std::uint8_t>& near, int threads) {
  const CellGrid grid = GridOf(lattice);
  const double band = BrickRadius(lattice.voxel_mm) + Truncation(lattice.voxel_mm);
  std::vector<BrickFill> states(near.size(), BrickFill::kUntouched);
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, near.size(), [&](std::size_t cell) {
      if (!near[cell]) return;
      const double d = solid.SignedDistance(grid.Centre(grid.At(static_cast<std::int64_t>(cell))));
      states[cell] = d > band ? BrickFill::kAir : d < -band ? BrickFill::kSolid : BrickFill::kMixed;
    });
  });
  return states;
}

// A tool that draws back along its own axis stays in the space it has just
// filled, as long as its outline widens upwards.
bool WithdrawsAlongAxis(const ToolTrack& track, std::size_t i) {
  if (i == 0 || track.sweeps[i - 1].swap) return false;   // nothing filled that space before
  if (!track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter.widens_upwards()) return false;
  const Vector3d travel = track.p_ST[i + 1] - track.p_ST[i];
  const double climb = travel.dot(track.axis_S[i]);
  const bool fixed_axis = (track.axis_S[i + 1] - track.axis_S[i]).norm() < 1e-6;
  return fixed_axis && climb > 0.0 && (travel - climb * track.axis_S[i]).norm() < 1e-4;
}

// Which of a track's cells are run, and what is known of them.
struct CellRun {
  std::int64_t cell = 0;
  const BrickState* state = nullptr;
  bool stored = true;                 // false: only bodies come near
};

class GridCutter {
 public:
  GridCutter(std::shared_ptr<const MeshIndex> solid, const ToolTrack& track, const CutOptions& options)
      : track_(track), options_(options), first_sweep_(options.from ? options.from->stop : 0) {
    cut_.stock.solid_S = std::move(solid);
    cut_.stock.lattice = MakeLattice(*cut_.stock.solid_S, track, options);
    grid_ = GridOf(cut_.stock.lattice);
  }

  GridCut Run() {
    TakeOver();
    BinAll();
    RunBricks();
    Total();
    return std::move(cut_);
  }

 private:
  void TakeOver();
  void BinAll();
  std::vector<CellRun> CellsToRun() const;
  void RunBricks();
  void KeepStates(const std::vector<CellRun>& cells, const std::vector<StatesAtStops>& states);
  bool MetBetween(std::int64_t cell, std::int32_t first, std::int32_t last) const;
  void Total();

  const ToolTrack& track_;
  const CutOptions& options_;
  const std::int32_t first_sweep_;
  GridCut cut_;
  CellGrid grid_;
  std::vector<BrickFill> fills_;
  SweepBins cutting_, bodies_;
  std::vector<const KeptBrick*> kept_;   // per cell; empty when nothing is taken over
};

void GridCutter::TakeOver() {
  if (!options_.from) return;
  kept_.assign(static_cast<std::size_t>(grid_.size()), nullptr);
  for (const KeptBrick& brick : options_.from->bricks) {
    const Vector3i at = brick.place - grid_.first;
    const bool inside = (at.array() >= 0).all() && (at.array() < grid_.count.array()).all();
    if (!inside) throw std::invalid_argument("CutOptions::from: a state of another track");
    kept_[static_cast<std::size_t>(grid_.IndexOf(at))] = &brick;
  }
}

void GridCutter::BinAll() {
  const Lattice& lattice = cut_.stock.lattice;
  BinRequest request;
  request.track = &track_;
  request.grid = grid_;
  request.threads = options_.threads;
  request.first_sweep = first_sweep_;
  request.reach_mm = BrickRadius(lattice.voxel_mm) + Truncation(lattice.voxel_mm);
  std::vector<std::uint8_t> near = CellsNearSweeps(request);
  BinRequest bodies = request;
  bodies.part = ToolPart::kBodies;
  bodies.reach_mm = BrickRadius(lattice.voxel_mm) + lattice.voxel_mm;
  const std::vector<std::uint8_t> near_body = CellsNearSweeps(bodies);
  for (std::size_t c = 0; c < near.size(); ++c) near[c] |= near_body[c];
  for (std::size_t c = 0; c < kept_.size(); ++c) near[c] |= kept_[c] ? 1 : 0;
  if (options_.within) {
    const std::vector<std::uint8_t> within = CellsWithin(grid_, *options_.within);
    for (std::size_t c = 0; c < near.size(); ++c) near[c] &= within[c];
  }
  std::vector<std::uint8_t> unknown = near;   // what a state is kept of is known
  for (std::size_t c = 0; c < kept_.size(); ++c) unknown[c] &= kept_[c] && kept_[c]->state ? 0 : 1;
  fills_ = Classify(*cut_.stock.solid_S, lattice, unknown, options_.threads);
  for (std::size_t c = 0; c < kept_.size(); ++c) {
    if (near[c] && !unknown[c]) fills_[c] = BrickFill::kMixed;
  }
  for (std::size_t c = 0; c < near.size(); ++c) {
    near[c] = fills_[c] == BrickFill::kSolid || fills_[c] == BrickFill::kMixed;
  }
  request.wanted = bodies.wanted = &near;
  cutting_ = BinSweeps(request);
  bodies_ = BinSweeps(bodies);
}

std::vector<CellRun> GridCutter::CellsToRun() const {
  std::vector<CellRun> cells, body_only;
  for (std::int64_t c = 0; c < grid_.size(); ++c) {
    const KeptBrick* kept = kept_.empty() ? nullptr : kept_[static_cast<std::size_t>(c)];
    if (kept || cutting_.CountOf(c) > 0) {
      cells.push_back({c, kept ? kept->state.get() : nullptr, true});
    } else if (bodies_.CountOf(c) > 0) {
      body_only.push_back({c, nullptr, false});
    }
  }
  cells.insert(cells.end(), body_only.begin(), body_only.end());
  return cells;
}

void GridCutter::RunBricks() {
  Stock& stock = cut_.stock;
  const std::vector<CellRun> cells = CellsToRun();
  const auto stored = std::find_if(cells.begin(), cells.end(), [](const CellRun& c) { return !c.stored; });
  const std::size_t bricks = static_cast<std::size_t>(stored - cells.begin());
  stock.bricks.reserve(bricks);
  FaultIn(stock.bricks.data(), bricks * sizeof(Brick), options_.threads);
  stock.bricks.resize(bricks);
  std::vector<StatesAtStops> states(cells.size());
  const VoxelOffsets offsets(stock.lattice.voxel_mm);
  std::vector<std::vector<OutlineRow>> outlines;
  for (const TrackTool& tool : track_.tools) outlines.push_back(OutlineRows(tool.cutter));
  const BrickRunContext context = {stock.solid_S.get(), &track_, &cutting_, &bodies_,
                                   &ChooseKernels(), &offsets, &outlines, stock.lattice, options_.keep_before};
  tbb::enumerable_thread_specific<std::vector<SweepContact>> records(
      [&] { return std::vector<SweepContact>(track_.sweeps.size()); });
  std::atomic<std::size_t> done{0};
  tbb::task_arena arena(options_.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, cells.size(), [&](std::size_t n) {
      const std::int64_t cell = cells[n].cell;
      const BrickStart start = {grid_.At(cell), cell, fills_[static_cast<std::size_t>(cell)], cells[n].state};
      states[n] = RunBrick(context, start, records.local(), cells[n].stored ? &stock.bricks[n] : nullptr);
      ++done;
      if (options_.progress && tbb::this_task_arena::current_thread_index() == 0) {
        options_.progress(static_cast<double>(done) / static_cast<double>(cells.size()));
      }
    });
  });
  std::vector<SweepContact>& contact = cut_.contact.sweeps;
  if (options_.from) contact = options_.from->contact;
  contact.resize(track_.sweeps.size());
  for (const auto& record : records) {
    for (std::size_t i = static_cast<std::size_t>(first_sweep_); i < record.size(); ++i) Merge(contact[i], record[i]);
  }
  KeepStates(cells, states);
  stock.brick_of.assign(fills_.size(), -1);
  for (std::size_t n = 0; n < stock.bricks.size(); ++n) {
    stock.brick_of[static_cast<std::size_t>(cells[n].cell)] = static_cast<std::int32_t>(n);
  }
}

bool GridCutter::MetBetween(std::int64_t cell, std::int32_t first, std::int32_t last) const {
  const auto begin = cutting_.sweeps.begin() + cutting_.begin[static_cast<std::size_t>(cell)];
  const auto end = cutting_.sweeps.begin() + cutting_.begin[static_cast<std::size_t>(cell) + 1];
  const auto met = std::lower_bound(begin, end, first);
  return met != end && *met < last;
}

void GridCutter::KeepStates(const std::vector<CellRun>& cells,
                            const std::vector<StatesAtStops>& states) {
  std::int32_t before = first_sweep_;
  for (std::size_t k = 0; k < options_.keep_before.size(); ++k) {
    CutState state;
    state.stop = options_.keep_before[k];
    for (std::size_t n = 0; n < cells.size() && cells[n].stored; ++n) {
      const std::shared_ptr<const BrickState>& at_stop = states[n][k];
      if (!at_stop && !MetBetween(cells[n].cell, before, state.stop)) continue;
      state.bricks.push_back({grid_.first + grid_.At(cells[n].cell), at_stop});
    }
    const auto& contact = cut_.contact.sweeps;
    state.contact.assign(contact.begin() + before, contact.begin() + state.stop);
    before = state.stop;
    cut_.kept.push_back(std::move(state));
  }
}

void GridCutter::Total() {
  ContactRecord& contact = cut_.contact;
  const Lattice& lattice = cut_.stock.lattice;
  contact.voxel_mm = contact.place_mm = options_.voxel_mm;
  contact.unit_mm3 = std::pow(options_.voxel_mm, 3);
  contact.origin_S = lattice.anchor_S;
  for (std::size_t i = 0; i < contact.sweeps.size(); ++i) {
    SweepContact& c = contact.sweeps[i];
    cut_.removed_voxels += c.removed_units;
    if (c.bite_bound_mm > 0.0f) {
      const Cutter& cutter = track_.tools[static_cast<std::size_t>(track_.sweeps[i].tool)].cutter;
      c.bite_bound_mm = static_cast<float>(
          BiteBound(options_.voxel_mm, cutter.nose_radius_mm(), c.bite_mm));
    }
    if (!c.cuts() && WithdrawsAlongAxis(track_, i)) c.bite_mm = c.bite_bound_mm = 0.0f;
    contact.bite_bound_mm = std::max(contact.bite_bound_mm, static_cast<double>(c.bite_bound_mm));
  }
  cut_.removed_mm3 = static_cast<double>(cut_.removed_voxels) * contact.unit_mm3;
}

}  // namespace

GridCut CutGrid(std::shared_ptr<const MeshIndex> solid_S, const ToolTrack& track,
                const CutOptions& options) {
  CheckRequest(track, options);
  RefuseIfTooLarge(*solid_S, track, options);
  return GridCutter(std::move(solid_S), track, options).Run();
}

}  // namespace aircut::sim
