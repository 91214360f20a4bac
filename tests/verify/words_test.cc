#include "verify/words.h"

#include <limits>

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

// Oracle: written out by hand.
TEST(WordsTest, NumbersCarryUnitsAndThousands) {
  EXPECT_EQ(Count(0), "0");
  EXPECT_EQ(Count(999), "999");
  EXPECT_EQ(Count(41380), "41,380");
  EXPECT_EQ(Count(-1234567), "-1,234,567");
  EXPECT_EQ(Millimetres(2.0649), "2.06 mm");
  EXPECT_EQ(Millimetres(35.12), "35.1 mm");
  EXPECT_EQ(Millimetres(1140.4), "1,140 mm");
  EXPECT_EQ(Millimetres(-0.001), "0.00 mm");
  EXPECT_EQ(SquareMillimetres(1140.0), "1,140 mm²");
  EXPECT_EQ(SquareMillimetres(1.0), "1.0 mm²");
  EXPECT_EQ(Place({41.2, -78.94, -0.01}), "(41.2, -78.9, 0.0) mm");
}

TEST(WordsTest, NotANumberIsUnknown) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(Millimetres(nan), "unknown mm");
  EXPECT_EQ(Clock(nan), "unknown");
}

TEST(WordsTest, ClockIsMinutesAndSeconds) {
  EXPECT_EQ(Clock(0.4), "0:00");
  EXPECT_EQ(Clock(1054.0), "17:34");
  EXPECT_EQ(Clock(3600.0), "60:00");
}

TEST(WordsTest, LinesAndListsReadAsText) {
  EXPECT_EQ(Lines(0, 0), "no path line");
  EXPECT_EQ(Lines(12, 12), "line 12");
  EXPECT_EQ(Lines(31204, 38911), "lines 31,204 to 38,911");
  EXPECT_EQ(List({}), "");
  EXPECT_EQ(List({"a"}), "a");
  EXPECT_EQ(List({"a", "b", "c"}), "a, b and c");
  EXPECT_EQ(List({"a", "b", "c", "d"}, 2), "a, b and 2 more");
  EXPECT_EQ(Plural(1, "check"), "1 check");
  EXPECT_EQ(Plural(3, "check"), "3 checks");
}

}  // namespace
}  // namespace aircut::verify
