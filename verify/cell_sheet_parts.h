#pragma once

#include <string>

#include "sim/job.h"

// Sections of the sheet of a cell; each starts with its heading and ends with a
// line end.
namespace aircut::verify {

/// One line of a section: a label, and what is to be said of it.
std::string SheetRow(const std::string& label, const std::string& text);

std::string ArmSection(const sim::Cell& cell);
std::string ReachSection(const sim::Cell& cell);
std::string FrameSection(const sim::Cell& cell);
std::string CutterSections(const sim::Cell& cell);     ///< one a cutter, lowest number first
std::string SpindleSection(const sim::Cell& cell);
std::string ControllerSection(const sim::Cell& cell);
std::string SurroundingsSection(const sim::Cell& cell);
std::string PremisesSection(const sim::Cell& cell);

}  // namespace aircut::verify
