// contact_checks.cc
