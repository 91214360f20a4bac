#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include <Eigen/Core>

namespace aircut::verify {

/// Numbers as a page prints them: with units, no false digits, thousands
/// separated. Not finite = "unknown".

/// @returns "41,380".
std::string Count(std::int64_t count);
/// @returns "2.06 mm", "35.1 mm", "1,140 mm": two decimals below 10, one below 1,000.
std::string Millimetres(double length_mm);
/// @returns "1,140 mm²".
std::string SquareMillimetres(double area_mm2);
/// @returns "(41.2, -78.9, -5.3) mm".
std::string Place(const Eigen::Vector3d& p_mm);
/// @returns "17:34", minutes and seconds.
std::string Clock(double time_s);
/// @returns "line 12", "lines 12 to 40", or "no path line" for 0.
std::string Lines(int first, int last);
/// @returns "a, b and c"; beyond `most` names "a, b, c and 9 more".
std::string List(const std::vector<std::string>& names, std::size_t most = 99);
/// @returns "1 check", "3 checks".
std::string Plural(std::int64_t count, const std::string& noun);

}  // namespace aircut::verify
