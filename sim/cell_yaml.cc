// cell_yaml.cc
