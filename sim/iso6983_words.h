#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "sim/iso6983_codes.h"

namespace aircut::sim {

/// A G or M word as found in a block.
struct IsoCode {
  char letter = 0;   ///< G or M; 0 if the block has none of the group
  int number = 0;
  int tenths = 0;    ///< ten times the number, with its decimal
};

/// The words of one block. Immutable once read.
class IsoBlock {
 public:
  bool Has(char letter) const { return (mask_ & Bit(letter)) != 0; }
  /// @returns whether any of the letters is there.
  bool HasAny(std::string_view letters) const;
  /// Number of a word that is there, as written.
  double operator[](char letter) const { return values_[static_cast<std::size_t>(letter - 'A')]; }
  /// The G or M word of that group, letter 0 if there is none.
  const IsoCode& Code(IsoGroup group) const { return codes_[static_cast<std::size_t>(group)]; }
  bool HasCode(IsoGroup group) const { return Code(group).letter != 0; }
  /// True for a block that is the sign % alone.
  bool is_percent() const { return is_percent_; }
  /// True if a G or M word was passed over, as the job asks for.
  bool has_passed_over() const { return has_passed_over_; }
  /// True if it has no word at all: blank or nothing but comments.
  bool is_empty() const { return mask_ == 0 && !has_code_ && !is_percent_; }

 private:
  friend class IsoBlockReader;
  static std::uint32_t Bit(char letter) { return std::uint32_t{1} << (letter - 'A'); }

  std::uint32_t mask_ = 0;
  bool has_code_ = false;
  bool is_percent_ = false;
  bool has_passed_over_ = false;
  std::array<double, 26> values_{};
  std::array<IsoCode, kIsoGroups> codes_{};
};

/// Splits lines into words: a letter, then a number with or without sign and
/// point; letters of either case; blanks anywhere but inside a number;
/// (comments) and the rest of a line behind ; are passed over.
class IsoBlockReader {
 public:
  /// @param ignore_words  what is passed over: an address letter that is not
  /// understood (`Q`), a G or M word that is not (`G64`), or `/`.
  /// @throws PathFault for a word that is understood or that no reader may pass
  /// over because it moves the path, e.g. G41.
  explicit IsoBlockReader(const std::vector<std::string>& ignore_words);

  /// @returns the words of the line; valid until the next call.
  /// @throws PathFault for anything that is not a word, not known, given twice or
  /// at odds with another word of the block.
  const IsoBlock& Read(std::string_view line);

 private:
  void Ignore(const std::string& word);
  void IgnoreCode(char letter, const std::string& word);
  void Word(char letter);
  void Code(char letter, double number);
  double Number(char letter);
  void Comment();
  void Sign(char sign);
  void SkipBlanks();

  std::uint32_t ignored_letters_ = 0;
  bool ignores_slash_ = false;
  std::vector<int> ignored_g_tenths_, ignored_m_tenths_;
  const char* at_ = nullptr;
  const char* end_ = nullptr;
  IsoBlock block_;
};

}  // namespace aircut::sim
