#include "verify/fine_features.h"

#include "verify/fine_measures.h"

namespace aircut::verify {

FineFeatures MeasureFineFeatures(const CheckInputs& in) {
  FineFeatures fine;
  fine.hollow = FindSmallestHollow(in);
  fine.walls = FindStandingWalls(in);
  fine.steps = MeasurePassSteps(in);
  return fine;
}

}  // namespace aircut::verify
