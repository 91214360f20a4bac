#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "sim/iso6983.h"
#include "sim/iso6983_words.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

std::vector<PoseRow> Read(const std::string& text, const PathRules& rules = {}) {
  const test::TempFolder folder;
  std::vector<PoseRow> rows;
  ReadIso6983(folder.Write("path.nc", text), rules,
              {[&](const PoseRow& row) { rows.push_back(row); }, [](const PathEvent&) {}});
  return rows;
}

void ExpectFault(const std::string& text, int line, const std::string& words, const PathRules& rules = {}) {
  EXPECT_THAT([&] { Read(text, rules); },
              ThrowsMessage<InputError>(AllOf(HasSubstr("path.nc:" + std::to_string(line) + ": "), HasSubstr(words))))
      << text;
}

const std::string kHead = "G21 G90 G94 G17\nT1 M06\nS12000 M03 F600\nG00 X0 Y0 Z50\n";

struct Case {
  const char *block, *words;
};

// Each block stands alone after a sound head, as line 5; the words are part of the
// sentence that the reader owes its user.
class RefusedBlockTest : public testing::TestWithParam<Case> {};

TEST_P(RefusedBlockTest, IsNamedAtItsLine) {
  ExpectFault(kHead + GetParam().block + "\nM30\n", 5, GetParam().words);
}

INSTANTIATE_TEST_SUITE_P(
    Words, RefusedBlockTest,
    testing::Values(
        Case{"G01 X1,5", "X1,: a number must have a decimal point, not a comma"},
        Case{"G01 X", "X has no number"}, Case{"G01 X-", "X has no number"}, Case{"G01 X.", "X has no number"},
        Case{"G01 X+-1", "X has no number"}, Case{"G01 X1.2.3", ".3 has no address letter"},
        Case{"G01 X1 2", "2 has no address letter"}, Case{"G01 X#1", "X has no number"},
        Case{"#1=5", "#1=5 has no address letter"}, Case{"G01 X1E5", "word E5 is not understood"},
        Case{"G91.1 G91.1", "G91.1 is given twice"}, Case{"G01 X1 X2", "X is given twice"}, Case{"G01 G01 X1", "G01 is given twice"},
        Case{"G00 G01 X1", "G00 and G01 exclude one another"}, Case{"G90 G91 X1", "G90 and G91 exclude one another"},
        Case{"G21 G71", "G21 and G71 exclude one another"}, Case{"M03 M04", "M03 and M04 exclude one another"},
        Case{"Q5", "word Q5 is not understood: take it out, or list Q"}, Case{"O100", "word O100 is not understood"},
        Case{"G11", "word G11 is not understood"}, Case{"G1.5 X1", "word G01.5 is not understood"},
        Case{"G-1", "G-1 is not known"}, Case{"G1000", "word G1000 is not understood"},
        Case{"G1.55", "G1.55 is not known"}, Case{"M55", "word M55 is not understood"},
        Case{"/ G01 X1", "/ makes the block depend on a switch"}, Case{"G01 X1 (open", "a comment is not closed"},
        Case{"(a (b) c)", "opened inside a comment"}, Case{"G01 X\xc2\xb7" "1", "X has no number"},
        Case{"\xe2\x88\x92", "byte 0xe2 is no character of a path"}, Case{"G01 X1 %", "% must stand alone"},
        Case{"\x01", "byte 0x01"}));

INSTANTIATE_TEST_SUITE_P(
    Meanings, RefusedBlockTest,
    testing::Values(
        Case{"G41 D1 X1", "G41 offsets the path by a cutter radius"}, Case{"G42", "G42 offsets"},
        Case{"G53 G00 Z0", "G53 moves by coordinates that the control holds"}, Case{"G28 Z0", "G28 moves"},
        Case{"G92 X0", "G92 moves the path's zero"}, Case{"G10 L2 P1", "G10 moves the path's zero"},
        Case{"G92.1", "G92.1 moves the path's zero"}, Case{"G81 Z-5 R2", "G81 is a canned cycle"},
        Case{"G89", "G89 is a canned cycle"}, Case{"G68", "G68 turns, scales or mirrors"},
        Case{"G33 Z1 K1", "G33 couples"}, Case{"G90.1", "G90.1 gives arc centres"}, Case{"G96 S100", "G96 holds"},
        Case{"M98 P1", "M98 calls or ends a subprogram"}, Case{"G61", "G61 lets the control round corners"},
        Case{"G64", "list the word under path.ignore_words"},
        Case{"G54", "give path.work_offsets.54"}, Case{"G43 H1", "give path.length_offsets.1"},
        Case{"M06", "M06 must come with or after the T word"}, Case{"T2 M06 G00 X1", "M06 stands in the block of a move"},
        Case{"T1.5", "T = 1.5 must be a whole number"}, Case{"T-1", "T = -1 must be a whole number"},
        Case{"M05 G00 Z60", "M05 stands in the block of a move"}, Case{"S-100", "S = -100 must lie in 0"},
        Case{"G04", "G04 must have its time in seconds"}, Case{"G04 P1 X1", "write one of them"},
        Case{"G04 P3000", "G04 P = 3000 must lie in 0 to 60 s"}, Case{"G04 P-1", "must lie in 0 to 60"},
        Case{"G04 P1 Y2", "G04 stands in the block of a move"}, Case{"P1", "P stands without G04"},
        Case{"G01 F0 X1", "F = 0 must be > 0"}, Case{"F-5", "F = -5 must be > 0"},
        Case{"G01 X1 F1e9", "word E9 is not understood"}, Case{"G01 X1 F999999999", "must be at most 100000 mm/s"},
        Case{"G01 X2000000", "must lie within +-1000000 mm"}, Case{"G20 G01 X1", "G20 changes the units in a block"},
        Case{"G80 X1", "what move leads to these coordinates"}, Case{"I5", "I, J, K or R stands in a block without a move"},
        Case{"G01 X1 R5", "R stands in a straight move"}, Case{"G01 X1 I5", "only if path.rotary"},
        Case{"A10", "A turns a rotary axis"}));

INSTANTIATE_TEST_SUITE_P(
    Arcs, RefusedBlockTest,
    testing::Values(Case{"G02 X10 I4", "radius 4 mm at its start and 6 mm at its end"},
                    Case{"G02 X10", "either its centre by I and J or its radius R"},
                    Case{"G02 X10 I5 R5", "write one of them"}, Case{"G02 X10 R4", "at most two radii"},
                    Case{"G02 R4", "a full circle must be written with I J K"}, Case{"G02 X0 Y0 I0", "centre is its start"},
                    Case{"G02 X10 I5 K1", "K stands in an arc whose plane it leaves"},
                    Case{"G18 G02 X10 I5 J1", "J stands in an arc"}, Case{"G19 G02 Y10 J5 I1", "I stands in an arc"},
                    Case{"G19 G02 Y10 I5", "I stands in an arc"}, Case{"G02 X0.001 I5", "a full circle or none"}));

// Each thing that a path must say before it is used.
TEST(Iso6983RefusalTest, NothingIsAssumedAtTheStart) {
  ExpectFault("G90 G94\nT1 M06\nG00 X0 Y0 Z0\nM30\n", 3, "the units are not said");
  ExpectFault("G21 G94\nT1 M06\nG00 X0 Y0 Z0\nM30\n", 3, "whether coordinates are absolute is not said");
  ExpectFault("G21 G90\nF100\n", 2, "what F means is not said");
  ExpectFault("G21 G90 G94\nG00 X0 Y0 Z0\nM30\n", 2, "the cutter of this move is not said");
  ExpectFault("G21 G90 G94\nT1\nG00 X0 Y0 Z0\nM30\n", 3, "the cutter of this move is not said");
  ExpectFault("G21 G90 G94\nT1 M06\nX0 Y0 Z0\nM30\n", 3, "what move leads to these coordinates");
  ExpectFault("G21 G90 G94\nT1 M06\nG00 X0 Y0\nM30\n", 3, "Z is not known here: the first move of the path must give Z");
  ExpectFault("G21 G91 G94\nT1 M06\nG00 X0 Y0 Z0\nM30\n", 3, "X is not known here");
  ExpectFault("G21 G90 G94\nT1 M06\nG00 X0 Y0 Z0\nG01 X1\nM30\n", 4, "the feed of this cut is missing");
  ExpectFault("G21 G90 G94\nT1 M06\nG00 X0 Y0 Z0\nG02 X1 R5 F100\nM30\n", 4, "the plane of the arc is not said");
  ExpectFault("G21 G90 G94 G17\nT1 M06\nG02 X1 Y0 Z0 R5 F100\nM30\n", 3, "X is not known here");
  ExpectFault("G21 G90 G93 G17\nT1 M06\nG01 X1 Y0 Z0 F5\nM30\n", 3, "G93 needs the start of the move");
  ExpectFault("M03\n", 1, "M03 must come with or after an S word");
}

TEST(Iso6983RefusalTest, FeedIsDroppedWhenItsUnitChanges) {
  ExpectFault(kHead + "G20\nG01 X1\n", 6, "F must be given anew");
  ExpectFault(kHead + "G95\nG01 X1\n", 6, "F must be given anew");
  PathRules rules;
  rules.defaults.feed_mm_s = 5;
  ExpectFault(kHead + "G20\nG01 X1\n", 6, "F must be given anew", rules);
}

TEST(Iso6983RefusalTest, AfterAToolChangeThePlaceIsGivenAnew) {
  ExpectFault(kHead + "T2 M06\nG00 Z50\nM30\n", 6, "the first move after M06 must give X");
  EXPECT_NO_THROW(Read(kHead + "T2 M06\nG00 X0 Y0 Z50\nM30\n"));
}

TEST(Iso6983RefusalTest, ProgramMustHaveOneEnd) {
  ExpectFault(kHead, 4, "the program has no end, as if the file were cut off");
  ExpectFault("%\n" + kHead, 5, "the program has no end");
  EXPECT_NO_THROW(Read("%\n" + kHead + "%\n"));
  EXPECT_NO_THROW(Read(kHead + "M30\n\n(end)\n%\n\n"));
  ExpectFault(kHead + "M30\nG00 X1\n", 6, "behind M02 or M30");
  ExpectFault(kHead + "M02\nN10\n", 6, "behind M02 or M30");
  ExpectFault("%\n" + kHead + "%\nG00 X1\n", 7, "behind the closing %");
  ExpectFault(kHead + "%\nM30\n", 5, "% may stand before the first block and after the last");
  ExpectFault("%\n" + kHead + "M30\n%\n%\n", 8, "% may stand");
  ExpectFault("", 0, "the path is empty");
  ExpectFault("G21 G90\nM30\n", 2, "the path is empty");
  ExpectFault("%\n%\n", 2, "the path is empty");
}

TEST(Iso6983RefusalTest, SpindleSpeedOfTheJobStandsForAPathWithoutSpindleWords) {
  PathRules rules;
  rules.defaults.spindle_rpm = 8000;
  const std::string head = "G21 G90 G94\nT1 M06\n", move = "G00 X0 Y0 Z0\n";
  EXPECT_EQ(Read(head + move + "M30\n", rules)[0].spindle_rpm, 8000);
  EXPECT_EQ(Read(head + "S500\n" + move + "M30\n", rules)[0].spindle_rpm, 0) << "S alone does not start it";
  EXPECT_EQ(Read(head + "S500 M04\n" + move + "M30\n", rules)[0].spindle_rpm, -500);
  ExpectFault(head + move + "S500 M03\nM30\n", 4, "take path.spindle_rpm out", rules);
  ExpectFault(head + move + "M05\nM30\n", 4, "take path.spindle_rpm out", rules);
  EXPECT_EQ(Read(head + move + "M30\n")[0].spindle_rpm, 0);
}

TEST(Iso6983RefusalTest, DefaultsOfTheJobFillToolAndFeed) {
  PathRules rules;
  rules.defaults.tool = 7;
  rules.defaults.feed_mm_s = 12;
  const auto rows = Read("G21 G90\nG00 X0 Y0 Z0\nG01 X1\nG94 F60\nX2\nM30\n", rules);
  EXPECT_EQ(rows[0].tool, 7);
  EXPECT_EQ(rows[1].feed_mm_s, 12);
  EXPECT_EQ(rows[2].feed_mm_s, 1);
  const std::string move = "G21 G90\nG00 X0 Y0 Z0\n";
  EXPECT_NO_THROW(Read(move + "T7\nM30\n", rules));
  ExpectFault(move + "T2\nM30\n", 4, "T2 is called but no M06 puts it in, while path.tool of the job says 7", rules);
  EXPECT_EQ(Read(move + "T2\nG00 X1\nM06\nG00 X0 Y0 Z0\nT3\nM30\n", rules)[2].tool, 2);
}

TEST(Iso6983RefusalTest, ModalWordsOfTheJobAreInForceAtTheStart) {
  PathRules rules;
  rules.modal = "G21 G90 G17 G94 F120 X1 Y2 Z300";
  const auto rows = Read("T1 M06\nG01 Z5\nM30\n", rules);
  ASSERT_EQ(rows.size(), 2u) << "the start is a place of the path";
  EXPECT_EQ(rows[0].p_SQ, Eigen::Vector3d(1, 2, 300));
  EXPECT_EQ(rows[0].move, kinematics::MoveKind::kRapid);
  EXPECT_EQ(rows[0].line, 2);
  EXPECT_EQ(rows[1].p_SQ, Eigen::Vector3d(1, 2, 5));
  EXPECT_EQ(rows[1].feed_mm_s, 2);
  EXPECT_EQ(Read("T1 M06\nG01 Z5\nZ4\nM30\n", rules).size(), 3u) << "the start is shown once";
  EXPECT_EQ(Read("T1 M06\nG02 X1 Y2 I5\nM30\n", rules)[0].p_SQ, Eigen::Vector3d(1, 2, 300));
  for (const char* bad : {"M03", "T1", "S100", "G04 P1", "G99", "G21 G20", "X1", "G21 G91 X1", "%", "G21 nonsense"}) {
    rules.modal = bad;
    EXPECT_THAT([&] { Read("M30\n", rules); }, ThrowsMessage<InputError>(HasSubstr("path.modal = " + std::string(bad)))) << bad;
  }
}

TEST(Iso6983RefusalTest, ListedWordsArePassedOver) {
  PathRules rules;
  rules.ignore_words = {"Q", "G64", "M55", "/", "g61.1", "o"};
  const auto rows = Read("O123\n" + kHead + "/ G64 Q5 G01 X1 M55 G61.1\nM30\n", rules);
  EXPECT_EQ(rows.back().p_SQ, Eigen::Vector3d(1, 0, 50));
  EXPECT_NO_THROW(Read("O1\n" + kHead + "G64 P0.01\nM30\n", rules));
  ExpectFault(kHead + "P0.01\n", 5, "P stands without G04", rules);
  ExpectFault(kHead + "G64\nP0.01\n", 6, "P stands without G04", rules);
  ExpectFault(kHead + "G01 X1 / Y2\n", 5, "/ makes the block depend", rules);
  for (const char* bad : {"G01", "M03", "X", "G41", "G92", "G81", "", "Q5", "G", "GG", "G1x", "#"}) {
    rules.ignore_words = {bad};
    EXPECT_THAT([&] { Read(kHead + "M30\n", rules); }, ThrowsMessage<InputError>(HasSubstr("path.ignore_words"))) << bad;
  }
}

// Oracle: the list itself. Every G and M word in it is read in a sound program, and
// no other number up to 199 is.
TEST(Iso6983RefusalTest, WordListHoldsWhatIsReadAndNothingElse) {
  std::vector<std::string> known;
  for (const Iso6983Word& word : Iso6983Words()) {
    EXPECT_FALSE(word.meaning.empty()) << word.word;
    known.push_back(word.word);
  }
  PathRules rules;
  rules.length_offsets_mm[1] = 50;
  for (int n = 54; n <= 59; ++n) rules.work_offsets[n] = kinematics::Pose::Identity();
  rules.modal = "G54";
  for (const char letter : {'G', 'M'}) {
    for (int number = 0; number < 200; ++number) {
      const std::string word = IsoCodeName(letter, 10 * number);
      std::string block = word;
      if (word == "G43" || word == "G44") block += " H1";
      if (word == "G04") block += " P1";
      if (word == "M06") block += " T1";
      bool is_read = true;
      try {
        Read(kHead + block + (word == "M02" || word == "M30" ? "\n" : "\nM30\n"), rules);
      } catch (const InputError&) {
        is_read = false;
      }
      EXPECT_EQ(is_read, std::find(known.begin(), known.end(), word) != known.end()) << word;
    }
  }
}

}  // namespace
}  // namespace aircut::sim
