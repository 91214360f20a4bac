#include "verify/report_text.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace aircut::verify {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInf = std::numeric_limits<double>::infinity();

// Oracle for all: written by hand from the rule in the header.
TEST(ReportTextTest, NumbersAreSeparatedAndSigned) {
  EXPECT_EQ(Number(0, 0), "0");
  EXPECT_EQ(Number(999, 0), "999");
  EXPECT_EQ(Number(1000, 0), "1,000");
  EXPECT_EQ(Number(-1234567.891, 2), "−1,234,567.89");
  EXPECT_EQ(Number(-0.004, 2), "0.00");
  EXPECT_EQ(Number(kNan, 2), "–");
  EXPECT_EQ(Number(kInf, 2), "∞");
  EXPECT_EQ(Number(-kInf, 2), "−∞");
}

TEST(ReportTextTest, GivenNumbersKeepNoEmptyDigits) {
  EXPECT_EQ(Plain(0.3), "0.3");
  EXPECT_EQ(Plain(5.0), "5");
  EXPECT_EQ(Plain(0.0), "0");
  EXPECT_EQ(Plain(100.0), "100");
  EXPECT_EQ(Plain(41380.4), "41,380");
  EXPECT_EQ(Plain(-12.3456), "−12.35");
  EXPECT_EQ(Plain(kNan), "–");
}

TEST(ReportTextTest, BoundsAreRoundedUpNeverDown) {
  EXPECT_EQ(BoundText(0.0101), "0.02");
  EXPECT_EQ(BoundText(0.01), "0.01");
  EXPECT_EQ(BoundText(0.001), "0.001");
  EXPECT_EQ(BoundText(0.25), "0.3");
  EXPECT_EQ(BoundText(3.2), "4");
  for (double bound = 1.1e-4; bound < 10; bound *= 1.07) {
    EXPECT_GE(std::stod(BoundText(bound)), bound * (1 - 1e-9)) << bound;
  }
}

TEST(ReportTextTest, ValueHasTheDigitsOfItsBound) {
  EXPECT_EQ(Measured(2.0634, 0.012, "mm"), "2.06 ± 0.02\u00a0mm");
  EXPECT_EQ(Measured(2.0634, 0.001, "mm"), "2.063 ± 0.001\u00a0mm");
  EXPECT_EQ(Measured(7.04, std::nullopt, "deg"), "7.04°");
  EXPECT_EQ(Measured(std::nullopt, 0.1, "mm"), "–");
  EXPECT_EQ(Measured(kInf, 0.1, "%"), "∞\u00a0%");
  EXPECT_EQ(Measured(kNan, 0.1, ""), "–");
}

TEST(ReportTextTest, AlmostAllIsNotAll) {
  EXPECT_EQ(Percent(1.0), "100\u00a0%");
  EXPECT_EQ(Percent(0.99999), "99.9\u00a0%");
  EXPECT_EQ(Percent(0.7829), "78\u00a0%");
  EXPECT_EQ(Percent(0.0), "0\u00a0%");
  EXPECT_EQ(Percent(kNan), "–");
}

TEST(ReportTextTest, TimesReadAsOnAClock) {
  EXPECT_EQ(ClockText(0), "0:00");
  EXPECT_EQ(ClockText(59.6), "1:00");
  EXPECT_EQ(ClockText(1420.3), "23:40");
  EXPECT_EQ(ClockText(3725), "1:02:05");
  EXPECT_EQ(ClockText(-1), "–");
  EXPECT_EQ(ClockText(kNan), "–");
}

TEST(ReportTextTest, EscapingCoversMarkupQuotesAndControlCharacters) {
  EXPECT_EQ(Escaped("a<b>&\"'\x01\n"), "a&lt;b&gt;&amp;&quot;&#39;?\n");
  EXPECT_EQ(Escaped("mm² Brandstötter"), "mm² Brandstötter");
}

}  // namespace
}  // namespace aircut::verify
