#pragma once

#include <array>
#include <optional>
#include <string_view>

namespace aircut::sim {

/// One physical cause that moves the real tool off the written path.
enum class ErrorLayer { kArm, kSpindle, kTool, kFixture, kLostMotion, kDrift };

inline constexpr std::array<ErrorLayer, 6> kErrorLayers = {ErrorLayer::kArm,     ErrorLayer::kSpindle,
                                                           ErrorLayer::kTool,    ErrorLayer::kFixture,
                                                           ErrorLayer::kLostMotion, ErrorLayer::kDrift};

/// The word of a layer on the command line and in report.json.
constexpr std::string_view WordFor(ErrorLayer layer) {
  switch (layer) {
    case ErrorLayer::kArm: return "arm";
    case ErrorLayer::kSpindle: return "spindle";
    case ErrorLayer::kTool: return "tool";
    case ErrorLayer::kFixture: return "fixture";
    case ErrorLayer::kLostMotion: return "lost-motion";
    case ErrorLayer::kDrift: return "drift";
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
