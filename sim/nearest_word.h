#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace aircut::sim {

/// @returns the candidate with the smallest edit distance (insertions,
/// deletions, substitutions) to `word`, the first of equals; empty if there is
/// none or if even the nearest one shares too little to be meant
/// (distance > half the longer length).
std::string NearestWord(std::string_view word, const std::vector<std::string>& candidates);

/// @returns ", did you mean <nearest>?" or an empty text.
std::string DidYouMean(std::string_view word, const std::vector<std::string>& candidates);

}  // namespace aircut::sim
