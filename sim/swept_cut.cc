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
#include "sim/input_error.h"

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
}

// The part of the stock that the tool comes near, in whole bricks: first brick
// and count along each axis, as real numbers that no fineness can overflow.
struct BrickBlock {
  Vector3d anchor = Vector3d::Zero(), first = Vector3d::Zero(), count = Vector3d::Zero();
};

// The lattice sits at a fixed odd fraction of a voxel from the stock's corner,
// so that no face of an upright block falls on voxel centres.
BrickBlock BlockOf(const MeshIndex& solid, const ToolTrack& track, double voxel) {
  AlignedBox3d reach;
  for (int i = 0; i < static_cast<int>(track.sweeps.size()); ++i) {
    reach.extend(SweepBox(track, i, ToolPart::kCutting));
    reach.extend(SweepBox(track, i, ToolPart::kBodies));
  }
  BrickBlock block;
  if (reach.isEmpty()) return block;
  const double edge = kBrickEdge * voxel, margin = Truncation(voxel);
  const AlignedBox3d stock(solid.box().min().array() - voxel, solid.box().max().array() + voxel);
  const AlignedBox3d box = stock.intersection(
      AlignedBox3d(reach.min().array() - margin, reach.max().array() + margin));
  if (box.isEmpty()) return block;
  block.anchor = solid.box().min().array() - 0.618 * voxel;
  block.first = ((box.min() - block.anchor) / edge).array().floor();
  block.count = ((box.max() - block.anchor) / edge).array().floor() - block.first.array() + 1.0;
  return block;
}

Lattice MakeLattice(const MeshIndex& solid, const ToolTrack& track, double voxel) {
  const BrickBlock block = BlockOf(solid, track, voxel);
  Lattice lattice;
  lattice.voxel_mm = voxel;
  lattice.origin_S = block.anchor + kBrickEdge * voxel * block.first;
  lattice.bricks = block.count.cast<int>();
  return lattice;
}

CellGrid GridOf(const Lattice& lattice) {
  CellGrid grid;
  grid.pitch_mm = kBrickEdge * lattice.voxel_mm;
  grid.first_centre_S = lattice.origin_S.array() + 0.5 * (kBrickEdge - 1) * lattice.voxel_mm;
  grid.count = lattice.bricks;
  return grid;
}

// Bricks that the tool can touch, counted on cells of 2 mm or more: fine bricks
// are too many to count one by one before it is known that they fit.
double TouchedBricks(const BrickBlock& block, const ToolTrack& track, double voxel) {
  if (block.count.prod() < 1.0) return 0.0;
  const double edge = kBrickEdge * voxel, pitch = std::max(edge, 2.0);
  BinRequest request;
  request.track = &track;
  request.grid.pitch_mm = pitch;
  request.grid.count = (block.count * (edge / pitch)).array().ceil().cast<int>();
  request.grid.first_centre_S = block.anchor + edge * block.first + Vector3d::Constant(0.5 * pitch);
  request.reach_mm = 0.5 * pitch + Truncation(voxel);
  double cells = 0.0;
  for (const std::uint8_t near : CellsNearSweeps(request)) cells += near;
  return std::min(block.count.prod(), cells * std::pow(pitch / edge, 3));
}

// Pairs are not known before binning: a cutter of radius r meets about the
// bricks of its own box, each step anew.
double EstimateBytes(const BrickBlock& block, const ToolTrack& track, double voxel) {
  const double edge = kBrickEdge * voxel;
  double pairs = 0.0;
  for (std::size_t i = 0; i + 1 < track.time_s.size(); ++i) {
    const double r = track.tools[static_cast<std::size_t>(track.sweeps[i].tool)].cutter.radius_mm();
    const double across = 2.0 * (r + Truncation(voxel)) / edge + 1.0;
    const double step = (track.p_ST[i + 1] - track.p_ST[i]).norm() / edge;
    pairs += across * across * (across + step) / 4.0;
  }
  return block.count.prod() * 14.0 + TouchedBricks(block, track, voxel) * (sizeof(Brick) + 160.0) +
         pairs * 12.0 + static_cast<double>(track.sweeps.size() * sizeof(SweepContact) * 3);
}

double VoxelThatFits(const MeshIndex& solid, const ToolTrack& track, const CutOptions& options) {
  double voxel = options.voxel_mm;
  const double limit = static_cast<double>(options.memory_limit_bytes);
  while (CutMemory(solid, track, voxel) > limit && voxel < 1000.0) voxel *= 1.25;
  return std::ceil(voxel * 1000.0) / 1000.0;
}

void RefuseIfTooLarge(const MeshIndex& solid, const ToolTrack& track, const CutOptions& options) {
  const double bytes = CutMemory(solid, track, options.voxel_mm);
  if (bytes <= static_cast<double>(options.memory_limit_bytes)) return;
  constexpr double kGiB = 1024.0 * 1024.0 * 1024.0;
  throw InputError(fmt::format(
      "resolution_mm = {:g} would need about {:.3g} GiB of memory, above the limit of {:.3g} GiB: "
      "choose {:g} mm or coarser (job key resolution_mm or option --resolution)",
      options.voxel_mm, bytes / kGiB, static_cast<double>(options.memory_limit_bytes) / kGiB,
      VoxelThatFits(solid, track, options)));
}

// 1 = material or surface near, 0 = surely air all over the brick.
std::vector<BrickState> Classify(const MeshIndex& solid, const Lattice& lattice,
                                 const std::vector<std::uint8_t>& near, int threads) {
  const CellGrid grid = GridOf(lattice);
  const double band = BrickRadius(lattice.voxel_mm) + Truncation(lattice.voxel_mm);
  std::vector<BrickState> states(near.size(), BrickState::kUntouched);
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, near.size(), [&](std::size_t cell) {
      if (!near[cell]) return;
      const double d = solid.SignedDistance(grid.Centre(grid.At(static_cast<std::int64_t>(cell))));
      states[cell] = d > band ? BrickState::kAir : d < -band ? BrickState::kSolid : BrickState::kMixed;
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

void Merge(SweepContact& into, const SweepContact& from) {
  into.removed_voxels += from.removed_voxels;
  into.bite_mm = std::max(into.bite_mm, from.bite_mm);
  into.bite_bound_mm = std::max(into.bite_bound_mm, from.bite_bound_mm);
  into.body_bound_mm = std::max(into.body_bound_mm, from.body_bound_mm);
  into.axial_mm = std::max(into.axial_mm, from.axial_mm);
  into.radial_mm = std::max(into.radial_mm, from.radial_mm);
  const bool deeper = from.body_bite_mm > into.body_bite_mm;
  const bool tie = from.body_bite_mm == into.body_bite_mm && from.body >= 0 &&
                   (into.body < 0 || from.body < into.body);
  if (deeper || tie) into.body = from.body;
  into.body_bite_mm = std::max(into.body_bite_mm, from.body_bite_mm);
}

class GridCutter {
 public:
  GridCutter(std::shared_ptr<const MeshIndex> solid, const ToolTrack& track, const CutOptions& options)
      : track_(track), options_(options) {
    cut_.stock.solid_S = std::move(solid);
    cut_.stock.lattice = MakeLattice(*cut_.stock.solid_S, track, options.voxel_mm);
  }

  GridCut Run() {
    BinAll();
    RunBricks();
    Total();
    return std::move(cut_);
  }

 private:
  void BinAll();
  void RunBricks();
  void Total();

  const ToolTrack& track_;
  const CutOptions& options_;
  GridCut cut_;
  std::vector<BrickState> states_;
  SweepBins cutting_, bodies_;
};

void GridCutter::BinAll() {
  const Lattice& lattice = cut_.stock.lattice;
  BinRequest request;
  request.track = &track_;
  request.grid = GridOf(lattice);
  request.threads = options_.threads;
  request.reach_mm = BrickRadius(lattice.voxel_mm) + Truncation(lattice.voxel_mm);
  std::vector<std::uint8_t> near = CellsNearSweeps(request);
  BinRequest bodies = request;
  bodies.part = ToolPart::kBodies;
  bodies.reach_mm = BrickRadius(lattice.voxel_mm) + lattice.voxel_mm;
  const std::vector<std::uint8_t> near_body = CellsNearSweeps(bodies);
  for (std::size_t c = 0; c < near.size(); ++c) near[c] |= near_body[c];
  states_ = Classify(*cut_.stock.solid_S, lattice, near, options_.threads);
  for (std::size_t c = 0; c < near.size(); ++c) {
    near[c] = states_[c] == BrickState::kSolid || states_[c] == BrickState::kMixed;
  }
  request.wanted = bodies.wanted = &near;
  cutting_ = BinSweeps(request);
  bodies_ = BinSweeps(bodies);
}

void GridCutter::RunBricks() {
  Stock& stock = cut_.stock;
  const CellGrid grid = GridOf(stock.lattice);
  stock.brick_of.assign(states_.size(), -1);
  std::vector<std::int64_t> cells, body_only;
  for (std::int64_t c = 0; c < grid.size(); ++c) {
    if (cutting_.CountOf(c) > 0) {
      stock.brick_of[static_cast<std::size_t>(c)] = static_cast<std::int32_t>(cells.size());
      cells.push_back(c);
    } else if (bodies_.CountOf(c) > 0) {
      body_only.push_back(c);
    }
  }
  stock.bricks.resize(cells.size());
  const VoxelOffsets offsets(stock.lattice.voxel_mm);
  const BrickRunContext context = {stock.solid_S.get(), &track_, &cutting_, &bodies_,
                                   &ChooseKernels(), &offsets, stock.lattice};
  tbb::enumerable_thread_specific<std::vector<SweepContact>> records(
      [&] { return std::vector<SweepContact>(track_.sweeps.size()); });
  const std::size_t total = cells.size() + body_only.size();
  std::atomic<std::size_t> done{0};
  tbb::task_arena arena(options_.threads);
  arena.execute([&] {
    tbb::parallel_for(std::size_t{0}, total, [&](std::size_t n) {
      const bool stored = n < cells.size();
      const std::int64_t cell = stored ? cells[n] : body_only[n - cells.size()];
      const BrickStart start = {grid.At(cell), cell, states_[static_cast<std::size_t>(cell)]};
      Brick brick = RunBrick(context, start, records.local());
      if (stored) stock.bricks[n] = std::move(brick);
      ++done;
      if (options_.progress && tbb::this_task_arena::current_thread_index() == 0) {
        options_.progress(static_cast<double>(done) / static_cast<double>(total));
      }
    });
  });
  cut_.contact.sweeps.resize(track_.sweeps.size());
  for (const auto& record : records) {
    for (std::size_t i = 0; i < record.size(); ++i) Merge(cut_.contact.sweeps[i], record[i]);
  }
}

void GridCutter::Total() {
  ContactRecord& contact = cut_.contact;
  contact.voxel_mm = options_.voxel_mm;
  for (std::size_t i = 0; i < contact.sweeps.size(); ++i) {
    SweepContact& c = contact.sweeps[i];
    cut_.removed_voxels += c.removed_voxels;
    if (c.removed_voxels == 0 && WithdrawsAlongAxis(track_, i)) c.bite_mm = c.bite_bound_mm = 0.0f;
    contact.bite_bound_mm = std::max(contact.bite_bound_mm, static_cast<double>(c.bite_bound_mm));
  }
  cut_.removed_mm3 = static_cast<double>(cut_.removed_voxels) * std::pow(options_.voxel_mm, 3);
}

}  // namespace

double CutMemory(const MeshIndex& solid_S, const ToolTrack& track, double voxel_mm) {
  if (!(voxel_mm > 0.0)) throw std::invalid_argument(fmt::format("voxel_mm = {} must be > 0", voxel_mm));
  return EstimateBytes(BlockOf(solid_S, track, voxel_mm), track, voxel_mm);
}

GridCut CutGrid(std::shared_ptr<const MeshIndex> solid_S, const ToolTrack& track,
                const CutOptions& options) {
  CheckRequest(track, options);
  RefuseIfTooLarge(*solid_S, track, options);
  return GridCutter(std::move(solid_S), track, options).Run();
}

}  // namespace aircut::sim
