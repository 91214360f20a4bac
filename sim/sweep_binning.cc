// sweep_binning.cc
