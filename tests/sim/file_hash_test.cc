#include "sim/file_hash.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sim/input_error.h"
#include "tests/support/tiny_job.h"

namespace aircut::sim {
namespace {

// Oracle: the example messages of FIPS 180-4 (NIST, "SHA-256 examples"): "abc",
// the 448-bit message, the empty message.
TEST(FileHashTest, TextsHashToThePublishedExamples) {
  EXPECT_EQ(Sha256OfText("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(Sha256OfText("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(Sha256OfText(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

// Oracle: the hash of a file is the hash of its bytes, also beyond one buffer
// and with zero bytes.
TEST(FileHashTest, FileHashesAsItsBytes) {
  const test::TempFolder folder;
  std::string bytes(200'001, 'x');
  bytes[70'000] = '\0';
  EXPECT_EQ(Sha256OfFile(folder.Write("long.bin", bytes)), Sha256OfText(bytes));
  EXPECT_EQ(Sha256OfFile(folder.Write("empty.bin", "")), Sha256OfText(""));
}

TEST(FileHashTest, MissingFileAndFolderAreErrorsThatNameThem) {
  const test::TempFolder folder;
  EXPECT_THAT([&] { Sha256OfFile(folder.path() / "none.bin"); },
              testing::ThrowsMessage<InputError>(testing::HasSubstr("none.bin")));
  EXPECT_THROW(Sha256OfFile(folder.path()), InputError);
}

}  // namespace
}  // namespace aircut::sim
