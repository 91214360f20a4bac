#include <functional>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/made_run.h"

namespace aircut::verify {
namespace {

using sim::Declared;
using support::Check;
using support::MadeRun;
using support::MakeRun;
using testing::HasSubstr;

TEST(BodiesDeclaredCheckTest, AllGivenOrNonePasses) {
  const CheckResult r = Check(MakeRun(), CheckBodiesDeclared);
  EXPECT_EQ(r.result, Result::kPass) << r.why;
  EXPECT_TRUE(r.needs.empty());
}

struct Silence {
  const char* key;
  std::function<void(sim::Cell*)> fall_silent;
};

// Oracle: the design, section 5: given or none; silence leaves it unproven. Each
// body alone, and it names the key.
TEST(BodiesDeclaredCheckTest, SilenceOfAnyOneIsUnprovenByItsKey) {
  const std::vector<Silence> cases = {
      {"bodies.hose", [](sim::Cell* c) { c->hose = Declared::kUnsaid; }},
      {"bodies.dust_hood", [](sim::Cell* c) { c->dust_hood = Declared::kUnsaid; }},
      {"bodies.floor", [](sim::Cell* c) { c->floor = Declared::kUnsaid; }},
      {"fixture.parts", [](sim::Cell* c) { c->fixture = Declared::kUnsaid; }},
      {"obstacles", [](sim::Cell* c) { c->obstacles = Declared::kUnsaid; }},
      {"spindle.housing", [](sim::Cell* c) { c->housing = Declared::kUnsaid; }},
      {"cutters.1.holder", [](sim::Cell* c) { c->cutters.at(1).holder.clear(); }},
      {"link 1", [](sim::Cell* c) { c->links.erase(c->links.begin()); }},
      {"link 5", [](sim::Cell* c) { c->links[4].shapes.clear(); }},
      {"arm.links", [](sim::Cell* c) { c->arm = nullptr; }}};
  for (const Silence& one : cases) {
    MadeRun made = MakeRun();
    one.fall_silent(&made.job.cell);
    const CheckResult r = Check(made, CheckBodiesDeclared);
    EXPECT_EQ(r.result, Result::kUnproven) << one.key;
    ASSERT_EQ(r.needs.size(), 1u) << one.key;
    EXPECT_THAT(r.needs[0], HasSubstr(one.key));
    EXPECT_TRUE(r.findings.empty());
  }
}

// The flange carries the spindle, which is a body of its own; an unused cutter
// needs no holder.
TEST(BodiesDeclaredCheckTest, BareFlangeAndUnusedCutterStayQuiet) {
  MadeRun made = MakeRun();
  made.job.cell.links.pop_back();
  sim::CellCutter spare = support::MadeCutter();
  spare.number = 7;
  spare.holder.clear();
  made.job.cell.cutters.emplace(7, spare);
  EXPECT_EQ(Check(made, CheckBodiesDeclared).result, Result::kPass);
}

TEST(BodiesDeclaredCheckTest, CutterSaidToHaveNoHolderStaysQuiet) {
  MadeRun made = MakeRun();
  made.job.cell.cutters.at(1).holder.clear();
  made.job.cell.cutters.at(1).holder_said = Declared::kNone;
  EXPECT_EQ(Check(made, CheckBodiesDeclared).result, Result::kPass);
}

TEST(BodiesDeclaredCheckTest, AllSilenceIsCounted) {
  MadeRun made = MakeRun();
  made.job.cell.hose = made.job.cell.dust_hood = Declared::kUnsaid;
  const CheckResult r = Check(made, CheckBodiesDeclared);
  EXPECT_EQ(*r.worst, 2.0);
  EXPECT_EQ(r.needs.size(), 2u);
}

// A body drawn in the frame of the base instead of its link's hangs in the air; one
// that begins 200 mm from its joint does not.
TEST(BodiesDeclaredCheckTest, ABodyOffItsJointsIsReported) {
  MadeRun made = MakeRun();
  const auto with_body_at = [&made](double z_mm) {
    made.job.cell.links[2].shapes = {sim::CapsuleShape{{0, 0, z_mm}, {0, 0, z_mm + 100}, 50.0}};
    return Check(made, CheckBodiesDeclared);
  };
  EXPECT_EQ(with_body_at(200.0).result, Result::kPass);
  const CheckResult r = with_body_at(3000.0);
  EXPECT_EQ(r.result, Result::kUnproven);
  EXPECT_THAT(r.why, testing::HasSubstr("link 3 lies"));
}

}  // namespace
}  // namespace aircut::verify
