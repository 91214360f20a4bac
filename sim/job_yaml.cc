// job_yaml.cc
