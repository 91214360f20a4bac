// ply.cc
