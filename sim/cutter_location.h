#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/path_source.h"

namespace aircut::sim {

/// Reads the text statements of a cutter-location file (ISO 4343 / ISO 3592
/// family). Streams: memory does not grow with the file.
///
/// Points and axis are as PoseRow's; the axis holds until it is written again
/// and is 0,0,1 at first, under MULTAX/ON it must be stated. A row carries the
/// number of the first line of its statement. Settings hold until they are
/// written again, an inverse-time feed (INVERS) too; only RAPID serves the next
/// motion alone. FROM is handed out as the first row, a rapid. Until the first
/// LOADTL and SPINDL the job's `defaults` hold; without one the spindle stands,
/// and a cut before any SPINDL is refused. FINI must end the file: without it a
/// file that was cut off would look whole.
/// A point of nine values says the tool's x (u,v,w) after the axis i,j,k, and with
/// it the whole orientation, until a point of six values or TLAXIS. The statements
/// of ISO 4343 know three and six values (from memory); what stands after them
/// differs between programs, so nine are read only where the job says what they
/// mean.
/// Of `rules`, `defaults`, `second_vector` and `ignore_words` (major words to pass
/// over) count.
/// @throws InputError with file, line, statement and what was expected.
void ReadCutterLocation(const std::filesystem::path& file, const PathRules& rules,
                        const PathSink& sink);

/// A statement that the reader knows, for the format reference.
struct CutterLocationWord {
  std::string word;     ///< e.g. GOTO
  std::string form;     ///< how it is written, e.g. GOTO/x,y,z[,i,j,k]
  std::string meaning;  ///< what aircut takes it to say
};

/// @returns every statement that is acted on, refused or passed over by name.
const std::vector<CutterLocationWord>& CutterLocationWords();

}  // namespace aircut::sim
