# Shows that check_includes.cmake can fail: each case is a small tree with one
# fault (or none), made in SCRATCH.
#   cmake -DROOT=<repository> -DSCRATCH=<folder> -P check_includes_test.cmake
cmake_minimum_required(VERSION 3.25)

function(try_tree name expected)
  execute_process(
    COMMAND ${CMAKE_COMMAND} -DROOT=${SCRATCH}/${name} -P ${ROOT}/tools/check_includes.cmake
    RESULT_VARIABLE status OUTPUT_VARIABLE out ERROR_VARIABLE err)
  if(expected STREQUAL "clean")
    if(NOT status EQUAL 0)
      message(FATAL_ERROR "${name}: a clean tree was refused: ${err}")
    endif()
  elseif(status EQUAL 0 OR NOT "${out}${err}" MATCHES "${expected}")
    message(FATAL_ERROR "${name}: expected '${expected}', got status ${status}: ${out}${err}")
  endif()
endfunction()

file(REMOVE_RECURSE ${SCRATCH})
file(WRITE ${SCRATCH}/clean/sim/a.h "#include <vector>\n#include <Eigen/Core>\n")
file(WRITE ${SCRATCH}/clean/sim/b.cc "#include \"sim/a.h\"\n#include <fmt/format.h>\n")
file(WRITE ${SCRATCH}/clean/verify/c.cc "#include \"sim/a.h\"\n")
file(WRITE ${SCRATCH}/clean/tests/d.cc "#include \"sim/a.h\"\n#include <gtest/gtest.h>\n")
try_tree(clean clean)

file(WRITE ${SCRATCH}/upward/verify/a.h "")
file(WRITE ${SCRATCH}/upward/sim/b.cc "#include \"verify/a.h\"\n")
try_tree(upward "sim must not include verify")

file(WRITE ${SCRATCH}/local/sim/a.h "")
file(WRITE ${SCRATCH}/local/sim/b.cc "#include \"a.h\"\n")
try_tree(local "not written from the root")

file(WRITE ${SCRATCH}/adapter/sim/stock.cc "#include <yaml-cpp/yaml.h>\n")
try_tree(adapter "adapter file only")

file(WRITE ${SCRATCH}/banned/sim/stock.cc "#include <openvdb/openvdb.h>\n")
try_tree(banned "no header that a library may include")

file(WRITE ${SCRATCH}/kinematics_fmt/kinematics/frame.cc "#include <fmt/format.h>\n")
try_tree(kinematics_fmt "adapter file only")

file(WRITE ${SCRATCH}/cycle/sim/a.h "#include \"sim/b.h\"\n")
file(WRITE ${SCRATCH}/cycle/sim/b.h "#include \"sim/a.h\"\n")
try_tree(cycle "an include cycle")
