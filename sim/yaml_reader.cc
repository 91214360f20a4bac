// yaml_reader.cc
