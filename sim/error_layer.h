#pragma once

#include <array>
#include <optional>
#include <string_view>

namespace aircut::sim {

/// One physical cause that moves the real tool off the written path.
///   kCornerRounding   the control leaves the written corner: in the commanded motion already
enum class ErrorLayer { kArm, kSpindle, kTool, kFixture, kLostMotion, kDrift, kCornerRounding };

inline constexpr std::array<ErrorLayer, 7> kErrorLayers = {
    ErrorLayer::kArm,        ErrorLayer::kSpindle, ErrorLayer::kTool,          ErrorLayer::kFixture,
    ErrorLayer::kLostMotion, ErrorLayer::kDrift,   ErrorLayer::kCornerRounding};

/// The word of a layer on the command line and in report.json.
constexpr std::string_view WordFor(ErrorLayer layer) {
  switch (layer) {
    case ErrorLayer::kArm: return "arm";
    case ErrorLayer::kSpindle: return "spindle";
    case ErrorLayer::kTool: return "tool";
    case ErrorLayer::kFixture: return "fixture";
    case ErrorLayer::kLostMotion: return "lost-motion";
    case ErrorLayer::kDrift: return "drift";
    case ErrorLayer::kCornerRounding: return "corner-rounding";
  }
  return "";
}

/// @returns the layer of that word; nothing for any other.
constexpr std::optional<ErrorLayer> LayerFor(std::string_view word) {
  for (const ErrorLayer layer : kErrorLayers) {
    if (WordFor(layer) == word) return layer;
  }
  return std::nullopt;
}

}  // namespace aircut::sim
