// report_json.cc
