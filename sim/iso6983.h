#pragma once

#include <filesystem>

#include "sim/path_source.h"

namespace aircut::sim {

/// Reads a program of the ISO 6983 family into `sink`, row by row and event by
/// event in file order, in memory that does not grow with the file. The words are
/// those of Iso6983Words(); everything else is an error unless the job lists it.
///
/// What is not said is not guessed. Before the first coordinate the units and G90
/// or G91 must be in force, before an arc its plane, before an F word G93, G94 or
/// G95; the first move gives every coordinate. `rules.modal` may state these
/// words, an F word and the point X Y Z where the path starts. The spindle is
/// stopped until M03 or M04; `defaults.spindle_rpm` stands for a path without any
/// spindle word. A feed is dropped when the units or G93 to G95 change.
///
/// Order within a block: units, feed, spindle speed, tool, tool change, spindle,
/// coolant on, dwell, plane, offsets, distance, move, coolant off, stop or end.
/// Where dialects differ in that order (M05 or M06 beside a move) it is an error.
/// A tool change stops the spindle; after it, every coordinate is given anew,
/// after a change of the length offset the height is. The program ends with M02,
/// M30 or, if % opened it, with %: a file without an end may be cut off.
///
/// A move of rotary words alone takes F as degrees a minute. A cut that moves
/// nothing under G93 has its written time and a feed of 1 mm/s without meaning.
/// Sources: ISO 6983-1:2009 (word meanings); NISTIR 6556 (2000), section 3 (order
/// within a block, dwell in seconds, feed of rotary moves, end of file), both
/// from memory.
/// @throws InputError with file, line, word, value and how to mend it.
void ReadIso6983(const std::filesystem::path& file, const PathRules& rules, const PathSink& sink);

}  // namespace aircut::sim
