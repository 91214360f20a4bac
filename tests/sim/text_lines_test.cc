#include "sim/text_lines.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::ThrowsMessage;

std::vector<std::string> LinesOf(const std::string& bytes) {
  const test::TempFolder folder;
  TextLines lines(folder.Write("path.txt", bytes));
  std::vector<std::string> read;
  while (lines.Next()) {
    read.emplace_back(lines.text());
    EXPECT_EQ(lines.line(), static_cast<int>(read.size()));
  }
  return read;
}

// Oracle: the definition of a line, written out by hand.
TEST(TextLinesTest, BothLineEndsBlankLinesAndAMissingLastEndAreRead) {
  EXPECT_THAT(LinesOf("a\r\n\nb c\n\r\nlast"), ElementsAre("a", "", "b c", "", "last"));
  EXPECT_THAT(LinesOf("a\n"), ElementsAre("a"));
  EXPECT_THAT(LinesOf("\n"), ElementsAre(""));
  EXPECT_THAT(LinesOf(""), ElementsAre());
}

TEST(TextLinesTest, ByteOrderMarkIsDroppedAtTheStartOnly) {
  EXPECT_THAT(LinesOf("\xef\xbb\xbfN1\n\xef\xbb\xbfN2\n"), ElementsAre("N1", "\xef\xbb\xbfN2"));
}

// Oracle: counting. Lines cross the ends of the reading buffer (1 MiB) at every
// offset, so a loss there would show.
TEST(TextLinesTest, LinesLargerThanTheBufferTogetherComeOutWhole) {
  std::string bytes;
  for (int i = 0; i < 60; ++i) bytes += std::string(65'000 + static_cast<std::size_t>(i), 'a') + "\n";
  const std::vector<std::string> read = LinesOf(bytes);
  ASSERT_EQ(read.size(), 60u);
  for (std::size_t i = 0; i < 60; ++i) EXPECT_EQ(read[i], std::string(65'000 + i, 'a'));
}

TEST(TextLinesTest, LineOfMoreThan64KiBIsAnErrorAtItsNumber) {
  EXPECT_EQ(LinesOf(std::string(65'536, 'a')).size(), 1u);
  for (const std::size_t size : {std::size_t{65'537}, std::size_t{5'000'000}}) {
    EXPECT_THAT([&] { LinesOf("ok\n" + std::string(size, 'a')); },
                ThrowsMessage<InputError>(HasSubstr("path.txt:2: the line is longer than 65536 bytes")));
  }
}

TEST(TextLinesTest, MissingFileAndFolderAreErrors) {
  const test::TempFolder folder;
  EXPECT_THROW(TextLines(folder.path() / "none.txt"), InputError);
  EXPECT_THROW(TextLines(folder.path()), InputError);
}

}  // namespace
}  // namespace aircut::sim
