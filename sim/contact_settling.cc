#include "sim/contact_settling.h"

#include <algorithm>
#include <cmath>

#include "sim/brick_run.h"
#include "sim/sweep_binning.h"

namespace aircut::sim {
namespace {

using Eigen::AlignedBox3d;

bool IsOpen(double value_mm, double bound_mm) {
  return bound_mm > 0.0 && std::abs(value_mm - kContact_mm) <= bound_mm;
}

bool CutterMustBeClear(const SweepInfo& sweep) {
  return sweep.rapid || sweep.line == 0 || sweep.spindle != SpindleState::kRight;
}

// What of a sweep is still open.
struct OpenContact {
  std::size_t sweep = 0;
  bool cutter = false, body = false;
};

std::vector<OpenContact> OpenContacts(const ToolTrack& track, const ContactRecord& record) {
  std::vector<OpenContact> open;
  for (std::size_t i = 0; i < record.sweeps.size(); ++i) {
    const SweepContact& c = record.sweeps[i];
    const OpenContact o{i, CutterMustBeClear(track.sweeps[i]) && IsOpen(c.bite_mm, c.bite_bound_mm),
                        IsOpen(c.body_bite_mm, c.body_bound_mm)};
    if (o.cutter || o.body) open.push_back(o);
  }
  return open;
}

// Where the tool is over those sweeps, and the material too.
std::vector<AlignedBox3d> PlacesOf(const ToolTrack& track, const std::vector<OpenContact>& open,
                                   const AlignedBox3d& stock, double margin_mm) {
  std::vector<AlignedBox3d> places;
  const auto add = [&](std::size_t sweep, ToolPart part) {
    AlignedBox3d box = SweepBox(track, static_cast<int>(sweep), part);
    if (box.isEmpty()) return;
    box = AlignedBox3d(box.min().array() - margin_mm, box.max().array() + margin_mm).intersection(stock);
    if (!box.isEmpty()) places.push_back(box);
  };
  for (const OpenContact& o : open) {
    if (o.cutter) add(o.sweep, ToolPart::kCutting);
    if (o.body) add(o.sweep, ToolPart::kBodies);
  }
  return places;
}

double BricksIn(const std::vector<AlignedBox3d>& places, double voxel_mm) {
  double bricks = 0.0;
  for (const AlignedBox3d& place : places) {
    bricks += (place.sizes() / (kBrickEdge * voxel_mm) + Eigen::Vector3d::Ones()).prod();
  }
  return bricks;
}

// The record keeps the coarse sums; only what the finer look is better at is taken.
void TakeOver(const std::vector<OpenContact>& open, const ContactRecord& fine, ContactRecord& record) {
  for (const OpenContact& o : open) {
    SweepContact& c = record.sweeps[o.sweep];
    const SweepContact& f = fine.sweeps[o.sweep];
    if (o.cutter) {
      c.bite_mm = f.bite_mm;
      c.bite_bound_mm = f.bite_bound_mm;
    }
    if (o.body) {
      c.body_bite_mm = f.body_bite_mm;
      c.body_bound_mm = f.body_bound_mm;
      c.body = f.body;
    }
  }
}

}  // namespace

std::int64_t SettleContacts(const ToolTrack& track, const CutOptions& options, GridCut& cut) {
  CutOptions fine = options;
  fine.from = nullptr;
  fine.keep_before.clear();
  fine.progress = nullptr;
  std::int64_t looked_at = 0;
  for (;;) {
    const std::vector<OpenContact> open = OpenContacts(track, cut.contact);
    fine.voxel_mm *= 0.5;
    // Deeper bites of pointed tips read too small.
    if (Truncation(fine.voxel_mm) < kContact_mm) return looked_at;
    // Half a voxel of the coarsest look about the tool, so that no brick near it is missed.
    const std::vector<AlignedBox3d> places =
        PlacesOf(track, open, cut.stock.solid_S->box(), options.voxel_mm);
    if (open.empty() || BricksIn(places, fine.voxel_mm) > kMostFineBricks) return looked_at;
    fine.within = &places;
    if (CutMemory(*cut.stock.solid_S, track, fine) > static_cast<double>(fine.memory_limit_bytes)) return looked_at;
    if (looked_at == 0) looked_at = static_cast<std::int64_t>(open.size());
    TakeOver(open, CutGrid(cut.stock.solid_S, track, fine).contact, cut.contact);
  }
}

}  // namespace aircut::sim
