// Seeded set-up errors, applied to the path, cut by the exact rays and read back from the
// deviation field alone. AIRCUT_CAUSE_RUNS=300 runs the whole campaign, AIRCUT_CAUSE_SEED
// another one, and AIRCUT_CAUSE_SHOW=1 prints every cause that was misread.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>

#include <gtest/gtest.h>

#include "tests/support/set_up_errors.h"
#include "verify/cause_field.h"

namespace aircut::verify {
namespace {

using support::CarvingScene;

int FromEnvironment(const char* name, int otherwise) {
  const char* value = std::getenv(name);
  return value != nullptr ? std::atoi(value) : otherwise;
}

// Lower end of Wilson's interval of 95 % (Wilson 1927; row STA-01).
double WilsonLow(int good, int all) {
  const double z = 1.959963984540054, n = all, p = good / n;
  return (p + z * z / (2 * n) - z * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n))) / (1 + z * z / n);
}

// Oracle: row STA-01 of the checks from outside, R's binom package.
TEST(CauseCampaignTest, WilsonBoundIsThePublishedOne) {
  EXPECT_NEAR(WilsonLow(18, 20), 0.6989663548, 1e-7);
  EXPECT_NEAR(WilsonLow(190, 200), 0.9104218519, 1e-7);
  EXPECT_NEAR(WilsonLow(29, 30), 0.8332961, 1e-7);
}

struct Scene {
  const char* name;
  CarvingScene scene;
  std::vector<CauseKind> kinds;    // that a job of this kind can have
  CauseField field;                // of the path without an error
};

CauseField FieldFrom(const CarvingScene& scene, const sim::ToolTrack& track) {
  const sim::Run run = support::CutOf(scene, track);
  return FieldForCauses(run, Measure(sim::Job(), run));
}

std::vector<CauseKind> KindsWith(CauseKind own) {
  std::vector<CauseKind> kinds = FittedKinds();
  const CauseKind other = own == CauseKind::kVAngle ? CauseKind::kToolRadius : CauseKind::kVAngle;
  kinds.erase(std::find(kinds.begin(), kinds.end(), other));
  return kinds;
}

const std::vector<Scene>& Scenes() {
  static const std::vector<Scene> scenes = [] {
    std::vector<Scene> made = {{"rose", support::RoseScene(), KindsWith(CauseKind::kToolRadius), {}},
                               {"letters", support::LetterScene(), KindsWith(CauseKind::kVAngle), {}}};
    for (Scene& s : made) s.field = FieldFrom(s.scene, s.scene.track);
    return made;
  }();
  return scenes;
}

// Squared correlation of two modes over the places of a field.
double Alike(const CauseField& field, CauseKind a, CauseKind b) {
  double aa = 0, bb = 0, ab = 0;
  for (const FieldPlace& p : field.places) {
    const double x = ModeAt(a, field, p, p.n_S), y = ModeAt(b, field, p, p.n_S);
    aa += p.weight * x * x;
    bb += p.weight * y * y;
    ab += p.weight * x * y;
  }
  return aa > 0 && bb > 0 ? ab * ab / (aa * bb) : 0.0;
}

// The rank test: two causes whose modes are one within what the report calls alike cannot
// be told apart on this scene by anyone.
bool SameClass(const CauseField& field, CauseKind a, CauseKind b) {
  return a == b || Alike(field, a, b) >= 1.0 - kRivalWithin;
}

double SizeOf(CauseKind kind, std::mt19937_64& rng) {
  std::uniform_real_distribution<double> part(0.5, 1.0);
  const double sign = rng() % 2 == 0 ? 1.0 : -1.0, most = [&] {
    switch (kind) {   // mm, rad or a ratio
      case CauseKind::kTurnX: case CauseKind::kTurnY: return 0.04;
      case CauseKind::kTurnZ: return 0.05;
      case CauseKind::kVAngle: return 0.1;
      case CauseKind::kScale: return 0.03;
      default: return 1.0;
    }
  }();
  return sign * most * part(rng);
}

struct Planted {
  CauseKind kind;
  double size;
};

// What a path with the given errors makes the field say.
std::optional<ProbableCause> Read(const Scene& s, const std::vector<Planted>& planted) {
  sim::ToolTrack track = s.scene.track;
  for (const Planted& p : planted) support::Apply(p.kind, p.size, s.field.middle_S, &track);
  return FindCause(FieldFrom(s.scene, track));
}

void Show(const Scene& s, const std::vector<Planted>& planted, const std::optional<ProbableCause>& cause) {
  if (std::getenv("AIRCUT_CAUSE_SHOW") == nullptr) return;
  std::printf("%s:", s.name);
  for (const Planted& p : planted) std::printf(" cause %d of %g", static_cast<int>(p.kind), p.size);
  std::printf(" read as");
  if (cause) {
    for (const FittedCause& p : cause->best.parts) std::printf(" %d of %g,", static_cast<int>(p.kind), p.size);
  }
  std::printf(" share %g\n", cause ? cause->best.share : 0.0);
}

// The planted cause among the best and its rivals.
const FittedCause* Named(const ProbableCause& cause, CauseKind kind) {
  const auto is = [kind](const CauseFit& fit) { return fit.parts.size() == 1 && fit.parts[0].kind == kind; };
  if (is(cause.best)) return &cause.best.parts[0];
  const auto rival = std::find_if(cause.rivals.begin(), cause.rivals.end(), is);
  return rival != cause.rivals.end() ? &rival->parts[0] : nullptr;
}

// Oracle: geometry. With one axis for the whole flat board a low frame, a long bit and a
// deep path are one; on the rose the axis follows the depth, so that bit and path are, and
// the face leans by 8 degrees only, so that the frame is too. All others differ.
TEST(CauseCampaignTest, TwinsAreThoseOfTheGeometry) {
  const auto upright = [](CauseKind k) { return k == CauseKind::kFrameZ || k == CauseKind::kToolLength || k == CauseKind::kDepth; };
  for (const Scene& s : Scenes()) {
    for (const CauseKind a : s.kinds) {
      for (const CauseKind b : s.kinds) {
        EXPECT_EQ(SameClass(s.field, a, b), a == b || (upright(a) && upright(b)))
            << s.name << " " << static_cast<int>(a) << " " << static_cast<int>(b);
      }
    }
  }
}

TEST(CauseCampaignTest, SingleCausesAreFoundWithTheirSizes) {
  const int runs = FromEnvironment("AIRCUT_CAUSE_RUNS", 40), seed = FromEnvironment("AIRCUT_CAUSE_SEED", 8);
  std::mt19937_64 rng(static_cast<unsigned>(seed));
  int right = 0, itself = 0, sized = 0;
  for (int n = 0; n < runs; ++n) {
    const Scene& s = Scenes()[static_cast<std::size_t>(n % 2)];
    const CauseKind kind = s.kinds[static_cast<std::size_t>(rng() % s.kinds.size())];
    const Planted planted{kind, SizeOf(kind, rng)};
    const auto cause = Read(s, {planted});
    const bool one = cause && cause->best.parts.size() == 1;
    const bool good = one && SameClass(s.field, cause->best.parts[0].kind, kind);
    const FittedCause* named = cause ? Named(*cause, kind) : nullptr;
    const bool near = named != nullptr && std::abs(named->size - planted.size) <= 0.1 * std::abs(planted.size);
    right += good ? 1 : 0;
    itself += good && cause->best.parts[0].kind == kind ? 1 : 0;
    sized += near ? 1 : 0;
    if (!good || !near) Show(s, {planted}, cause);
  }
  std::printf("seed %d: of %d causes %d first up to twins (Wilson low %.3f), %d first themselves, %d sized within 10 %%\n",
              seed, runs, right, WilsonLow(right, runs), itself, sized);
  // Of 40 all would have to be right for 0.912; the whole campaign is held to the goal.
  const double goal = runs >= 300 ? 0.92 : 0.85;
  EXPECT_GE(WilsonLow(right, runs), goal);
  EXPECT_GE(WilsonLow(sized, runs), goal);
}

// Rms of what one unit of a cause makes of a field.
double Strength(const CauseField& field, CauseKind kind) {
  double sum = 0.0, weight = 0.0;
  for (const FieldPlace& p : field.places) {
    sum += p.weight * std::pow(ModeAt(kind, field, p, p.n_S), 2);
    weight += p.weight;
  }
  return std::sqrt(sum / weight);
}

// Two causes that are no twins; the weaker makes at least half of the other's deviation.
std::vector<Planted> TwoCauses(const Scene& s, std::mt19937_64& rng) {
  const CauseKind one = s.kinds[rng() % s.kinds.size()];
  CauseKind two = s.kinds[rng() % s.kinds.size()];
  while (SameClass(s.field, one, two)) two = s.kinds[rng() % s.kinds.size()];
  std::vector<Planted> planted = {{one, SizeOf(one, rng)}, {two, SizeOf(two, rng)}};
  const auto rms = [&](const Planted& p) { return std::abs(p.size) * Strength(s.field, p.kind); };
  const std::size_t strong = rms(planted[0]) > rms(planted[1]) ? 0 : 1;
  const double part = std::uniform_real_distribution<double>(0.5, 1.0)(rng);
  planted[strong].size *= std::min(1.0, rms(planted[1 - strong]) / rms(planted[strong]) / part);
  return planted;
}

bool HoldsBoth(const Scene& s, const std::optional<ProbableCause>& cause, const std::vector<Planted>& planted) {
  if (!cause || cause->best.parts.size() != 2) return false;
  const auto pair = [&](std::size_t first) {
    return SameClass(s.field, cause->best.parts[first].kind, planted[0].kind) &&
           SameClass(s.field, cause->best.parts[1 - first].kind, planted[1].kind);
  };
  return pair(0) || pair(1);
}

TEST(CauseCampaignTest, BothOfTwoCausesAreFound) {
  const int all = FromEnvironment("AIRCUT_CAUSE_RUNS", 40) / 4, seed = FromEnvironment("AIRCUT_CAUSE_SEED", 8);
  std::mt19937_64 rng(static_cast<unsigned>(seed) + 1000u);
  int found = 0;
  for (int n = 0; n < all; ++n) {
    const Scene& s = Scenes()[static_cast<std::size_t>(n % 2)];
    const std::vector<Planted> planted = TwoCauses(s, rng);
    const auto cause = Read(s, planted);
    if (HoldsBoth(s, cause, planted)) ++found;
    else Show(s, planted, cause);
  }
  std::printf("seed %d: of %d pairs %d found up to twins\n", seed, all, found);
  EXPECT_GE(found, 0.85 * all);
}

}  // namespace
}  // namespace aircut::verify
