#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace aircut::sim {

/// A word of the format and what it means, in one line.
struct Iso6983Word {
  std::string word;
  std::string meaning;
};

/// Every word that the reader understands: address letters first, then G and M
/// words. The format reference is tested against it.
const std::vector<Iso6983Word>& Iso6983Words();

/// Words of one group exclude one another: a block may hold one of each.
enum class IsoGroup {
  kMotion, kPlane, kUnits, kDistance, kFeedMode, kWorkOffset, kLength, kRadius, kSpeedMode,
  kArcCentre, kDwell, kProgram, kToolChange, kSpindle, kCoolant
};
inline constexpr std::size_t kIsoGroups = 15;

/// What the reader does with a G or M word.
enum class IsoUse {
  kRead,       ///< understood
  kPassable,   ///< refused, but for a job that lists it
  kRefused     ///< refused always: passing over it would move the path
};

/// A G or M word that is known, if only to say why it is refused.
struct IsoCodeRule {
  char letter = 0;
  int tenths = 0;               ///< ten times its number: G61.1 has 611
  IsoGroup group = IsoGroup::kMotion;
  IsoUse use = IsoUse::kRead;
  const char* text = "";        ///< meaning of a word that is read, else why not and how to mend
};

/// @returns the rule of a word, or nothing if it is not known.
const IsoCodeRule* FindIsoCode(char letter, int tenths);

/// @returns the word as it is usually written: G01, M30, G61.1.
std::string IsoCodeName(char letter, int tenths);

}  // namespace aircut::sim
