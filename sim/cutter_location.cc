#include "sim/cutter_location.h"

#include "sim/cutter_location_reader.h"

namespace aircut::sim {

std::vector<CutterLocationReader::Entry> CutterLocationReader::MovingEntries() {
  constexpr Ignoring kNever = Ignoring::kNever;
  return {{{"GOTO", "GOTO/x,y,z[,i,j,k[,u,v,w]]",
            "straight move to a point; three values keep the orientation, more need MULTAX/ON; nine need "
            "path.second_vector"},
           &CutterLocationReader::Goto,
           kNever},
          {{"GODLTA", "GODLTA/dx,dy,dz", "straight move by a distance"},
           &CutterLocationReader::GoDelta,
           kNever},
          {{"FROM", "FROM/x,y,z[,i,j,k[,u,v,w]]", "start point, before any motion: the first row, a rapid"},
           &CutterLocationReader::From,
           kNever},
          {{"TLAXIS", "TLAXIS/i,j,k", "tool axis from the next motion on, tip to spindle"},
           &CutterLocationReader::ToolAxis,
           kNever},
          {{"RAPID", "RAPID", "the next motion alone is a rapid"},
           &CutterLocationReader::Rapid,
           kNever},
          {{"FEDRAT", "FEDRAT/f,MMPM | MMPR | IPM | IPR | INVERS",
            "feed per minute or per turn of the spindle, or 1 / minutes of each move; holds until "
            "the next"},
           &CutterLocationReader::Feed,
           kNever},
          {{"UNITS", "UNITS/MM | INCHES",
            "unit of all lengths that follow; must stand before the first of them"},
           &CutterLocationReader::Units,
           kNever},
          {{"MULTAX", "MULTAX[/ON | OFF]",
            "GOTO and FROM may, or may no longer, state the tool axis; OFF keeps the last axis"},
           &CutterLocationReader::Multax,
           kNever}};
}

std::vector<CutterLocationReader::Entry> CutterLocationReader::OtherEntries() {
  constexpr Ignoring kAllowed = Ignoring::kAllowed, kNever = Ignoring::kNever;
  return {
      {{"SPINDL", "SPINDL/s,RPM,CLW | CCLW or SPINDL/ON | OFF",
        "spindle speed, CLW clockwise seen from the spindle; ON: at the last speed"},
       &CutterLocationReader::Spindle,
       kNever},
      {{"LOADTL", "LOADTL/n[,LENGTH,l]", "cutter n is put in; its length, if stated"},
       &CutterLocationReader::LoadTool,
       kNever},
      {{"TOOLNO", "TOOLNO/n[,LENGTH,l]", "as LOADTL"}, &CutterLocationReader::LoadTool, kNever},
      {{"CUTTER", "CUTTER/d[,r[,e,f,alpha,beta,h]]",
        "shape the path was made for, angles in degrees; h = 0 is not said"},
       &CutterLocationReader::Cutter,
       kAllowed},
      {{"COOLNT", "COOLNT/ON | FLOOD | MIST | OFF", "coolant on or off"},
       &CutterLocationReader::Coolant,
       kAllowed},
      {{"DELAY", "DELAY/t", "the arm waits t seconds"}, &CutterLocationReader::Delay, kAllowed},
      {{"STOP", "STOP", "waits for a person"}, &CutterLocationReader::Stop, kNever},
      {{"OPSTOP", "OPSTOP", "waits for a person if the switch at the panel is set"},
       &CutterLocationReader::OptionalStop,
       kNever},
      {{"END", "END", "end of the program; only FINI may follow"},
       &CutterLocationReader::End,
       kNever},
      {{"FINI", "FINI", "end of the file; required, nothing may follow"},
       &CutterLocationReader::Finis,
       kNever},
      {{"INTOL", "INTOL/t", "no effect: the points are taken as they stand"},
       &CutterLocationReader::Tolerance,
       kAllowed},
      {{"OUTTOL", "OUTTOL/t", "no effect: the points are taken as they stand"},
       &CutterLocationReader::Tolerance,
       kAllowed},
      {{"PARTNO", "PARTNO text", "no effect: a name"}, &CutterLocationReader::Pass, kAllowed},
      {{"PPRINT", "PPRINT text", "no effect: text to print"},
       &CutterLocationReader::Pass,
       kAllowed},
      {{"REMARK", "REMARK text", "no effect: a comment"}, &CutterLocationReader::Pass, kAllowed},
      {{"CLEARP", "CLEARP/...",
        "refused: the height of a clearance plane depends on the post-processor"},
       &CutterLocationReader::Refuse,
       kAllowed},
      {{"RETRCT", "RETRCT", "refused: where a retract ends depends on the post-processor"},
       &CutterLocationReader::Refuse,
       kAllowed}};
}

const std::vector<CutterLocationReader::Entry>& CutterLocationReader::Entries() {
  static const std::vector<Entry> entries = [] {
    std::vector<Entry> all = MovingEntries();
    for (const Entry& entry : OtherEntries()) all.push_back(entry);
    return all;
  }();
  return entries;
}

void ReadCutterLocation(const std::filesystem::path& file, const PathRules& rules,
                        const PathSink& sink) {
  CutterLocationReader(file, rules, sink).ReadAll();
}

const std::vector<CutterLocationWord>& CutterLocationWords() {
  static const std::vector<CutterLocationWord> words = [] {
    std::vector<CutterLocationWord> all;
    for (const CutterLocationReader::Entry& entry : CutterLocationReader::Entries())
      all.push_back(entry.word);
    return all;
  }();
  return words;
}

}  // namespace aircut::sim
