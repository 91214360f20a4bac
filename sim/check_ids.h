#pragma once

#include <array>
#include <string_view>

namespace aircut::sim {

enum class CheckGroup { kPremise, kHazard, kQuality };

struct CheckId {
  std::string_view id;
  CheckGroup group;
};

/// Every check id of the design, in report order; the ids that `require:` of a
/// job may name. What a check asks and how lives in verify.
inline constexpr std::array<CheckId, 42> kCheckIds = {{
    {"arm-model", CheckGroup::kPremise},
    {"joint-path", CheckGroup::kPremise},
    {"piece-located", CheckGroup::kPremise},
    {"frame-fit", CheckGroup::kPremise},
    {"tool-measured", CheckGroup::kPremise},
    {"bodies-declared", CheckGroup::kPremise},
    {"scan-support", CheckGroup::kPremise},
    {"payload", CheckGroup::kPremise},
    {"inputs", CheckGroup::kHazard},
    {"events", CheckGroup::kHazard},
    {"reach", CheckGroup::kHazard},
    {"joint-range", CheckGroup::kHazard},
    {"joint-speed", CheckGroup::kHazard},
    {"posture-change", CheckGroup::kHazard},
    {"clash", CheckGroup::kHazard},
    {"rapid-contact", CheckGroup::kHazard},
    {"stopped-contact", CheckGroup::kHazard},
    {"body-contact", CheckGroup::kHazard},
    {"gouge", CheckGroup::kHazard},
    {"clamp-zone", CheckGroup::kHazard},
    {"break-through", CheckGroup::kHazard},
    {"depth", CheckGroup::kQuality},
    {"leftover", CheckGroup::kQuality},
    {"scallop", CheckGroup::kQuality},
    {"clearance", CheckGroup::kQuality},
    {"flute-length", CheckGroup::kQuality},
    {"plunge", CheckGroup::kQuality},
    {"joint-acceleration", CheckGroup::kQuality},
    {"feed-held", CheckGroup::kQuality},
    {"corner-rounding", CheckGroup::kQuality},
    {"singularity", CheckGroup::kQuality},
    {"wrist-winding", CheckGroup::kQuality},
    {"chip-load", CheckGroup::kQuality},
    {"spindle-load", CheckGroup::kQuality},
    {"tool-strength", CheckGroup::kQuality},
    {"deflection", CheckGroup::kQuality},
    {"holding", CheckGroup::kQuality},
    {"lost-motion", CheckGroup::kQuality},
    {"shaking", CheckGroup::kQuality},
    {"depth-confidence", CheckGroup::kQuality},
    {"cycle-time", CheckGroup::kQuality},
    {"slow-air-pass", CheckGroup::kQuality},
}};

}  // namespace aircut::sim
