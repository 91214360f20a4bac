#include "sim/contact_settling.h"

#include <cmath>

#include <gtest/gtest.h>

#include "tests/support/simple_tracks.h"

namespace aircut::sim {
namespace {

CutOptions Coarse() {
  CutOptions options;
  options.voxel_mm = 0.4;
  return options;
}

// One rapid of the cutter along x, its lowest point `depth_mm` below the face, after
// a cut elsewhere.
ToolTrack Grazing(const Cutter& cutter, double depth_mm) {
  ToolTrack track = UprightTrack(cutter, {{-8, -8, 4}, {-8, -8, -1}, {-8, -8, 6}, {-8, 0.03, 6},
                                          {-8, 0.03, -depth_mm}, {8, 0.03, -depth_mm}, {8, 0.03, 6}});
  track.sweeps[4].rapid = true;
  return track;
}

bool IsOpen(const SweepContact& c) { return std::abs(c.bite_mm - kContact_mm) <= c.bite_bound_mm; }

struct Settled {
  SweepContact before, after;
  GridCut cut;
};

Settled Settle(const Cutter& cutter, double depth_mm) {
  const ToolTrack track = Grazing(cutter, depth_mm);
  GridCut cut = CutGrid(Block(60, 30, 10), track, Coarse());
  const SweepContact before = cut.contact.sweeps[4];
  SettleContacts(track, Coarse(), cut);
  const SweepContact after = cut.contact.sweeps[4];
  return {before, after, std::move(cut)};
}

// What the coarse voxels leave open is told right: nothing deeper than 0.05 mm is
// cleared, nothing shallower blamed, for a ball and for a sharp V.
TEST(ContactSettlingTest, TellsOnWhichSideOfTheLimitAGrazingRapidIs) {
  struct Case {
    Cutter cutter;
    std::vector<double> depths_mm;
  };
  const Case cases[] = {{Cutter::Ball(6, 20), {0.035, 0.065}},
                        {Cutter::V(1.0471975511965976, 0.0, 8, 12), {0.01, 0.1}}};
  for (const Case& c : cases) {
    int open = 0;
    for (const double depth : c.depths_mm) {
      const Settled s = Settle(c.cutter, depth);
      open += IsOpen(s.before) ? 1 : 0;
      ASSERT_FALSE(IsOpen(s.after)) << depth << " " << s.after.bite_mm << " " << s.after.bite_bound_mm;
      EXPECT_EQ(s.after.bite_mm > kContact_mm, depth > kContact_mm) << depth;
      EXPECT_NEAR(s.after.bite_mm, depth, s.after.bite_bound_mm) << depth;
    }
    EXPECT_GE(open, 1);   // or the test would show nothing
  }
}

TEST(ContactSettlingTest, ChangesNothingElse) {
  const Settled s = Settle(Cutter::Ball(6, 20), 0.035);
  const GridCut plain = CutGrid(Block(60, 30, 10), Grazing(Cutter::Ball(6, 20), 0.035), Coarse());
  EXPECT_EQ(s.cut.removed_voxels, plain.removed_voxels);
  for (std::size_t i = 0; i < plain.contact.sweeps.size(); ++i) {
    EXPECT_EQ(s.cut.contact.sweeps[i].removed_units, plain.contact.sweeps[i].removed_units);
    if (i == 4) continue;
    EXPECT_EQ(s.cut.contact.sweeps[i].bite_mm, plain.contact.sweeps[i].bite_mm) << i;
    EXPECT_EQ(s.cut.contact.sweeps[i].bite_bound_mm, plain.contact.sweeps[i].bite_bound_mm) << i;
  }
}

// A holder that passes 0.2 mm over the face: less than half the diagonal of a
// coarse voxel, more than that of a fine one.
TEST(ContactSettlingTest, ClearsABodyThatPassesClose) {
  ToolTrack track = UprightTrack(Cutter::Ball(6, 10), {{-10, 0, 5}, {-10, 0, -9.8}, {10, 0, -9.8}});
  track.tools[0].bodies = {{10.0, 30.0, 8.0}};
  GridCut cut = CutGrid(Block(60, 30, 20), track, Coarse());
  EXPECT_GT(cut.contact.sweeps[1].body_bound_mm, 0.0f);
  EXPECT_GT(SettleContacts(track, Coarse(), cut), 0);
  EXPECT_EQ(cut.contact.sweeps[1].body_bound_mm, 0.0f);
  EXPECT_EQ(cut.contact.sweeps[1].body_bite_mm, 0.0f);
}

TEST(ContactSettlingTest, LeavesAClearTrackAlone) {
  const ToolTrack track = UprightTrack(Cutter::Ball(6, 20), {{-20, 0, 6}, {-20, 0, -1}, {20, 0, -1}, {20, 0, 6}});
  GridCut cut = CutGrid(Block(60, 30, 10), track, Coarse());
  EXPECT_EQ(SettleContacts(track, Coarse(), cut), 0);
}

}  // namespace
}  // namespace aircut::sim
