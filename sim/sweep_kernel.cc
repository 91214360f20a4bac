// sweep_kernel.cc
