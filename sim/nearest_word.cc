#include "sim/nearest_word.h"

#include <algorithm>
#include <numeric>

namespace aircut::sim {
namespace {

// Longer words are never keys of ours; the bound keeps the table small.
constexpr std::size_t kMaxLength = 64;

std::size_t EditDistance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t change = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({change, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row[b.size()];
}

}  // namespace

std::string NearestWord(std::string_view word, const std::vector<std::string>& candidates) {
  std::string nearest;
  if (word.size() > kMaxLength) return nearest;
  std::size_t least = kMaxLength;
  for (const std::string& candidate : candidates) {
    const std::size_t distance = EditDistance(word, candidate);
    if (distance < least && 2 * distance <= std::max(word.size(), candidate.size())) {
      least = distance;
      nearest = candidate;
    }
  }
  return nearest;
}

std::string DidYouMean(std::string_view word, const std::vector<std::string>& candidates) {
  const std::string nearest = NearestWord(word, candidates);
  return nearest.empty() ? std::string() : ", did you mean " + nearest + "?";
}

}  // namespace aircut::sim
