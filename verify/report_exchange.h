#pragma once

#include <string>

#include "verify/report.h"

namespace aircut::verify {

/// Findings for an editor that marks them on the path file: SARIF 2.1.0 (OASIS
/// standard, 2020). A fail is an error, an unproven a warning.
std::string FindingsSarif(const ReportContext& context);

/// Checks for a build server: one test case a check. A fail is a failure, a
/// required unproven check an error (it must not look green), any other
/// unproven one skipped.
std::string ChecksJunit(const ReportContext& context);

/// The moments of the main track as CSV, joints as the panel shows them, tool
/// pose as commanded. Only the header when there is no motion.
std::string MomentsCsv(const ReportContext& context);

/// True if the arm is to run the joint path of this run, or the job asks for it,
/// and there is one.
bool WritesJointPath(const ReportContext& context);

/// The text of joint_path.csv: one row a moment, time and joints as the panel
/// shows them, with all their digits.
std::string JointPathCsv(const ReportContext& context);

}  // namespace aircut::verify
