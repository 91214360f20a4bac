#pragma once

#include <optional>
#include <string>
#include <vector>

#include "verify/finding.h"

namespace aircut::verify {

/// Text fit for HTML and XML content and quoted attributes; control characters
/// that XML 1.0 forbids become '?'.
std::string Escaped(const std::string& text);

/// A number with a fixed count of decimals, thousands separated by commas, a
/// true minus sign and no negative zero; "–" for NaN, "∞" without end.
std::string Number(double value, int decimals);

/// A number as it was given: up to 4 significant digits, no trailing zeros.
std::string Plain(double value);

/// Decimals that a value with this numerical bound deserves: the last one is
/// of the bound's own size. At most 4.
int DecimalsFor(double bound);

/// A bound to one significant digit, rounded up.
std::string BoundText(double bound);

/// " mm", "°", " %": what to put behind a number on the page, escaped.
std::string UnitText(const std::string& unit);

/// "2.06 ± 0.01 mm"; "–" without a value.
std::string Measured(const std::optional<double>& value, const std::optional<double>& bound,
                     const std::string& unit);

/// A share in percent, rounded down, so that 100 % means all of it.
std::string Percent(double share);

/// Bytes as text for a data address.
std::string Base64(const std::vector<unsigned char>& bytes);

/// Minutes and seconds, "23:40"; hours in front where there are any.
std::string ClockText(double seconds);

/// Inline drawing of a result: filled square, half-filled lozenge, open ring.
std::string ShapeOf(Result result, int size_px);

}  // namespace aircut::verify
