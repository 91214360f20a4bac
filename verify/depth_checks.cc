// depth_checks.cc
