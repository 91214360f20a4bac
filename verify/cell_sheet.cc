#include "verify/cell_sheet.h"

#include <fmt/format.h>

#include "verify/cell_sheet_parts.h"
#include "verify/cell_words.h"
#include "verify/words.h"

namespace aircut::verify {
namespace {

std::string AssumedSection(const sim::Cell& cell) {
  std::string text = "Assumed, because nobody stated it\n";
  if (cell.assumed.empty()) return text + "  nothing\n";
  for (const sim::AssumedValue& value : cell.assumed) {
    const std::string unit = value.unit.empty() ? "" : " " + value.unit;
    text += SheetRow(value.key, fmt::format("{}{}, the bad end of {} to {}{} ({})", Given(value.value), unit,
                                            Given(value.low), Given(value.high), unit, value.source));
  }
  return text;
}

std::string InputsSection(const sim::LoadedCellFile& loaded) {
  std::string text = "Files read\n";
  if (loaded.inputs.empty()) return text + "  none\n";
  for (const sim::InputFile& input : loaded.inputs) {
    text += SheetRow(input.role, fmt::format("{}, {}, SHA-256 {}", input.file,
                                             Plural(input.bytes, "byte"), input.sha256.substr(0, 12)));
  }
  return text;
}

}  // namespace

std::string SheetRow(const std::string& label, const std::string& text) {
  constexpr std::size_t kLabel = 26;
  if (label.size() >= kLabel) return fmt::format("  {}: {}\n", label, text);
  return fmt::format("  {:<{}}{}\n", label, kLabel, text);
}

std::string CellSheet(const sim::LoadedCellFile& loaded) {
  const sim::Cell& cell = loaded.cell;
  const std::string parts[] = {ArmSection(cell), ReachSection(cell), FrameSection(cell), CutterSections(cell),
                               SpindleSection(cell), ControllerSection(cell), SurroundingsSection(cell),
                               PremisesSection(cell), AssumedSection(cell),
                               InputsSection(loaded)};
  std::string text = fmt::format("Cell: {}\nWhat was understood. Hold it against the thing on the floor.\n",
                                 cell.name.empty() ? "no name" : cell.name);
  for (const std::string& part : parts) text += "\n" + part;
  return text;
}

}  // namespace aircut::verify
