#include <algorithm>
#include <map>
#include <regex>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/cutter_location.h"
#include "sim/iso6983_codes.h"
#include "sim/job.h"
#include "tests/cli/run_program.h"
#include "verify/check.h"
#include "verify/checks.h"

// The page for users, scenes/README.md, against the program: its examples run, and
// its tables name what the readers know, no more and no less.
namespace aircut::test {
namespace {

using Cells = std::vector<std::string>;

std::vector<std::string> PageLines() {
  std::istringstream text(TextOf(std::string(AIRCUT_SCENES) + "/README.md"));
  std::vector<std::string> lines;
  for (std::string line; std::getline(text, line);) lines.push_back(line);
  return lines;
}

// The cells of a table row, without backticks around a lone word; `\|` is no bound.
Cells CellsOf(const std::string& line) {
  Cells cells(1);
  for (std::size_t i = 1; i < line.size(); ++i) {
    if (line[i] == '\\' && i + 1 < line.size() && line[i + 1] == '|') {
      cells.back() += line[++i];
    } else if (line[i] == '|') {
      cells.emplace_back();
    } else {
      cells.back() += line[i];
    }
  }
  cells.pop_back();
  for (std::string& cell : cells) cell = std::regex_replace(cell, std::regex("^ +| +$"), "");
  return cells;
}

// Rows of the tables whose first column has this name, with the section that they stand in.
struct Row {
  std::string section;   // of the last heading of second order
  Cells cells;
};

std::vector<Row> RowsOf(const std::string& first_column) {
  std::vector<Row> rows;
  std::string section;
  Cells header;
  for (const std::string& line : PageLines()) {
    if (line.rfind("## ", 0) == 0) section = line.substr(3);
    if (line.empty() || line[0] != '|') {
      header.clear();
    } else if (header.empty()) {
      header = CellsOf(line);
    } else if (header[0] == first_column && line.rfind("|---", 0) != 0) {
      rows.push_back({section, CellsOf(line)});
    }
  }
  return rows;
}

// `a.b`, `.c` stands for a.b and a.c.
std::vector<std::string> KeysIn(const std::string& cell) {
  std::vector<std::string> keys;
  const std::regex quoted("`([^`]+)`");
  for (std::sregex_iterator it(cell.begin(), cell.end(), quoted), end; it != end; ++it) {
    std::string key = (*it)[1];
    if (key[0] == '.' && !keys.empty()) {
      const std::size_t last = keys.back().rfind('.');
      key = last == std::string::npos ? key.substr(1) : keys.back().substr(0, last) + key;
    }
    keys.push_back(key);
  }
  return keys;
}

std::set<std::string> KeysOnThePage() {
  const std::map<std::string, std::string> kinds = {
      {"A place", "place "}, {"A body", "body "}, {"Cell file", "cell/1 "}, {"Job file", "job/1 "},
      {"Material file", "material/1 "},
      {"Waivers file", "waivers/1 "}};
  std::set<std::string> keys;
  for (const Row& row : RowsOf("key")) {
    for (const std::string& key : KeysIn(row.cells[0])) {
      const std::string whole = kinds.at(row.section) + key;
      EXPECT_TRUE(keys.insert(whole).second) << whole << " stands twice";
    }
  }
  return keys;
}

// Places and bodies are told once, whatever map they stand in.
std::string Shared(const std::string& key) {
  const std::regex place("^(cell/1|job/1) .*\\.(position|rotation)(\\..*)?$");
  const std::regex body("^cell/1 .*\\.(capsule|cylinder|box|mesh)(\\..*)?$");
  std::smatch match;
  if (std::regex_match(key, match, place)) return "place " + match[2].str() + match[3].str();
  if (std::regex_match(key, match, body)) return "body " + match[1].str() + match[2].str();
  return key;
}

// Every example, by the name in the comment before its block.
std::map<std::string, std::string> Examples() {
  std::map<std::string, std::string> files;
  const std::vector<std::string> lines = PageLines();
  const std::regex name("^<!-- file: ([A-Za-z0-9_.]+) -->$");
  std::smatch match;
  for (std::size_t i = 0; i + 1 < lines.size(); ++i) {
    if (!std::regex_match(lines[i], match, name)) continue;
    EXPECT_EQ(lines[i + 1].rfind("```", 0), 0u) << match[1] << " has no block";
    std::string text;
    for (i += 2; i < lines.size() && lines[i] != "```"; ++i) text += lines[i] + "\n";
    EXPECT_TRUE(files.emplace(match[1], text).second) << match[1] << " stands twice";
  }
  return files;
}

bool EndsWith(const std::string& text, const std::string& tail) {
  return text.size() >= tail.size() && text.compare(text.size() - tail.size(), tail.size(), tail) == 0;
}

class FormatReferenceTest : public testing::Test {
 protected:
  FormatReferenceTest() : examples_(Examples()) {
    for (const auto& [name, text] : examples_) folder_.Write(name, text);
  }
  std::vector<std::string> FilesLike(const std::string& tail) const {
    std::vector<std::string> files;
    for (const auto& [name, text] : examples_) {
      if (EndsWith(name, tail)) files.push_back((folder_.path() / name).string());
    }
    return files;
  }

  const TempFolder folder_;
  const std::map<std::string, std::string> examples_;
};

// Oracle: the program itself.
TEST_F(FormatReferenceTest, EveryCellOfThePageIsUnderstood) {
  ASSERT_GE(FilesLike(".cell.yaml").size(), 4u);
  for (const std::string& file : FilesLike(".cell.yaml")) {
    const Outcome outcome = RunAircut("cell " + file);
    EXPECT_EQ(outcome.code, 0) << file << "\n" << outcome.err;
  }
}

// Oracle: the program itself; 2 is bad input, 4 a fault of the program.
TEST_F(FormatReferenceTest, EveryJobOfThePageRuns) {
  ASSERT_GE(FilesLike(".job.yaml").size(), 3u);
  for (const std::string& file : FilesLike(".job.yaml")) {
    const Outcome outcome = RunAircut("dryrun " + file + " --quiet");
    EXPECT_THAT(outcome.code, testing::AnyOf(0, 1, 3)) << file << "\n" << outcome.out << outcome.err;
  }
}

// Oracle: the maps that the readers met in the page's own examples, all of which
// together have every map there is.
TEST_F(FormatReferenceTest, TablesOfKeysAreTheKeysOfTheReaders) {
  std::set<std::string> known;
  for (const char* tail : {".cell.yaml", ".job.yaml"}) {
    for (const std::string& file : FilesLike(tail)) {
      for (const std::string& key : sim::KeysKnownWhenReading(file)) known.insert(Shared(key));
    }
  }
  const std::set<std::string> on_page = KeysOnThePage();
  for (const std::string& key : known) EXPECT_EQ(on_page.count(key), 1u) << key << " is read, but not on the page";
  for (const std::string& key : on_page) EXPECT_EQ(known.count(key), 1u) << key << " is on the page, but not read";
}

// Word and meaning of the table in this section.
std::map<std::string, std::string> WordsOnThePage(const std::string& section) {
  std::map<std::string, std::string> words;
  for (const Row& row : RowsOf("word")) {
    if (row.section != section) continue;
    const std::string word = row.cells[0].substr(1, row.cells[0].size() - 2);
    EXPECT_TRUE(words.emplace(word, row.cells.back()).second) << word << " stands twice";
  }
  return words;
}

TEST_F(FormatReferenceTest, WordsOfIso6983AreThoseOfTheReader) {
  std::map<std::string, std::string> known;
  for (const sim::Iso6983Word& word : sim::Iso6983Words()) known.emplace(word.word, word.meaning);
  EXPECT_EQ(WordsOnThePage("Path format `iso6983`"), known);
}

TEST_F(FormatReferenceTest, CutterLocationStatementsAreThoseOfTheReader) {
  std::map<std::string, std::string> known;
  for (const sim::CutterLocationWord& word : sim::CutterLocationWords()) known.emplace(word.word, word.meaning);
  EXPECT_EQ(WordsOnThePage("Path format `cutter_location`"), known);
  for (const Row& row : RowsOf("word")) {
    if (row.section != "Path format `cutter_location`") continue;
    const auto same = [&](const sim::CutterLocationWord& word) {
      return "`" + word.word + "`" == row.cells[0] && "`" + word.form + "`" == row.cells[1];
    };
    EXPECT_TRUE(std::any_of(sim::CutterLocationWords().begin(), sim::CutterLocationWords().end(), same)) << row.cells[1];
  }
}

TEST_F(FormatReferenceTest, ChecksAreThoseOfTheCatalogue) {
  std::map<std::string, std::string> known, on_page;
  for (const verify::CheckEntry& entry : verify::Catalogue()) known.emplace("`" + entry.id + "`", entry.asks);
  for (const Row& row : RowsOf("check")) on_page.emplace(row.cells[0], row.cells[1]);
  EXPECT_EQ(on_page, known);
}

}  // namespace
}  // namespace aircut::test
