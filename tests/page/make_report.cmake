# Runs a job dry into a fresh folder: cmake -DPROGRAM= -DJOB= -DOUT= -P make_report.cmake
# The day is given, so that the page is the same on any day. Any verdict will do.
execute_process(COMMAND ${PROGRAM} dryrun ${JOB} --quiet --date 2026-11-27 --out ${OUT} RESULT_VARIABLE code)
if(NOT code MATCHES "^[013]$")
  message(FATAL_ERROR "aircut ended with ${code}")
endif()
