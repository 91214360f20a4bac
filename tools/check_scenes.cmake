# The committed scene files are what the generator writes, byte for byte.
#   cmake -DROOT=<repository> -DSCRATCH=<folder> -DMAKE_SCENES=<program> -P check_scenes.cmake
cmake_minimum_required(VERSION 3.25)

file(REMOVE_RECURSE ${SCRATCH})
file(MAKE_DIRECTORY ${SCRATCH} ${SCRATCH}/ring ${SCRATCH}/tight_reach ${SCRATCH}/v_lettering)
execute_process(COMMAND ${MAKE_SCENES} transom ${SCRATCH} COMMAND_ERROR_IS_FATAL ANY)
execute_process(COMMAND ${MAKE_SCENES} ring ${SCRATCH}/ring COMMAND_ERROR_IS_FATAL ANY)
execute_process(COMMAND ${MAKE_SCENES} tight_reach ${SCRATCH}/tight_reach COMMAND_ERROR_IS_FATAL ANY)
execute_process(COMMAND ${MAKE_SCENES} v_lettering ${SCRATCH}/v_lettering COMMAND_ERROR_IS_FATAL ANY)
foreach(name board.ply letters.csv touched.csv)
  execute_process(
    COMMAND ${CMAKE_COMMAND} -E compare_files ${ROOT}/scenes/v_lettering/${name} ${SCRATCH}/v_lettering/${name}
    RESULT_VARIABLE status)
  if(NOT status EQUAL 0)
    message(FATAL_ERROR "scenes/v_lettering/${name} is not what make_scenes writes: run make_scenes v_lettering scenes/v_lettering")
  endif()
endforeach()
foreach(name board.ply carved_board.ply oval.csv touched.csv)
  execute_process(
    COMMAND ${CMAKE_COMMAND} -E compare_files ${ROOT}/scenes/tight_reach/${name} ${SCRATCH}/tight_reach/${name}
    RESULT_VARIABLE status)
  if(NOT status EQUAL 0)
    message(FATAL_ERROR "scenes/tight_reach/${name} is not what make_scenes writes: run make_scenes tight_reach scenes/tight_reach")
  endif()
endforeach()
set(clash_files
  clash_wall/tub.ply clash_wall/near.csv clash_wall/clear.csv clash_clamp/block.ply clash_clamp/low.csv
  clash_clamp/over.csv clash_retract/block.ply clash_retract/low.csv clash_retract/high.csv clash_elbow/block.ply
  clash_elbow/groove.csv clash_hose/block.ply clash_hose/wound.csv clash_hose/short.csv clash_order/ribbed.ply
  clash_order/design.ply clash_order/beside_first.csv clash_order/rib_first.csv)
foreach(name wall clamp retract elbow hose order)
  file(MAKE_DIRECTORY ${SCRATCH}/clash_${name})
endforeach()
execute_process(COMMAND ${MAKE_SCENES} clash ${SCRATCH} COMMAND_ERROR_IS_FATAL ANY)
foreach(name ${clash_files})
  execute_process(
    COMMAND ${CMAKE_COMMAND} -E compare_files ${ROOT}/scenes/${name} ${SCRATCH}/${name}
    RESULT_VARIABLE status)
  if(NOT status EQUAL 0)
    message(FATAL_ERROR "scenes/${name} is not what make_scenes writes: run make_scenes clash scenes")
  endif()
endforeach()
foreach(name ring_block.ply ring.csv ring.iso ring.cl ring_arcs.iso touched.csv)
  execute_process(
    COMMAND ${CMAKE_COMMAND} -E compare_files ${ROOT}/scenes/ring/${name} ${SCRATCH}/ring/${name}
    RESULT_VARIABLE status)
  if(NOT status EQUAL 0)
    message(FATAL_ERROR "scenes/ring/${name} is not what make_scenes writes: run make_scenes ring scenes/ring")
  endif()
endforeach()
foreach(name transom.ply rose_design.ply rose.csv touched.csv touched_low_frame.csv)
  execute_process(
    COMMAND ${CMAKE_COMMAND} -E compare_files ${ROOT}/scenes/transom/${name} ${SCRATCH}/${name}
    RESULT_VARIABLE status)
  if(NOT status EQUAL 0)
    message(FATAL_ERROR "scenes/transom/${name} is not what make_scenes writes: run make_scenes transom scenes/transom")
  endif()
endforeach()
