// report_html.cc
