// catalogue.cc
