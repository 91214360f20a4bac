// design_samples.cc
