// input_checks.cc
