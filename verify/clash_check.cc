// clash_check.cc
