// motion_checks.cc
