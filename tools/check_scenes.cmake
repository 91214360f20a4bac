# The committed scene files are what the generator writes, byte for byte.
#   cmake -DROOT=<repository> -DSCRATCH=<folder> -DMAKE_SCENES=<program> -P check_scenes.cmake
cmake_minimum_required(VERSION 3.25)

file(REMOVE_RECURSE ${SCRATCH})
foreach(folder transom ring tight_reach v_lettering soft_fixture clash_wall clash_clamp clash_retract clash_elbow clash_hose clash_order)
  file(MAKE_DIRECTORY ${SCRATCH}/${folder})
endforeach()

# Writes one scene, into a folder below `scenes`, and compares the files named.
function(check_scene scene folder)
  execute_process(COMMAND ${MAKE_SCENES} ${scene} ${SCRATCH}/${folder} COMMAND_ERROR_IS_FATAL ANY)
  foreach(name ${ARGN})
    execute_process(
      COMMAND ${CMAKE_COMMAND} -E compare_files ${ROOT}/scenes/${folder}/${name} ${SCRATCH}/${folder}/${name}
      RESULT_VARIABLE status)
    if(NOT status EQUAL 0)
      message(FATAL_ERROR "scenes/${folder}/${name} is not what make_scenes writes: run make_scenes ${scene} scenes/${folder}")
    endif()
  endforeach()
endfunction()

check_scene(transom transom transom.ply rose_design.ply rose.csv touched.csv touched_low_frame.csv)
check_scene(ring ring ring_block.ply ring_scan.ply ring_scan_hole.ply ring.csv ring.iso ring.cl ring_arcs.iso touched.csv)
check_scene(tight_reach tight_reach board.ply carved_board.ply oval.csv touched.csv)
check_scene(v_lettering v_lettering board.ply letters.csv touched.csv)
check_scene(soft_fixture soft_fixture block.ply groove.csv touched.csv firm_push.csv springy_push.csv)
check_scene(clash .
  clash_wall/tub.ply clash_wall/near.csv clash_wall/clear.csv clash_clamp/block.ply clash_clamp/low.csv
  clash_clamp/over.csv clash_retract/block.ply clash_retract/low.csv clash_retract/high.csv clash_elbow/block.ply
  clash_elbow/groove.csv clash_hose/block.ply clash_hose/wound.csv clash_hose/short.csv clash_order/ribbed.ply
  clash_order/design.ply clash_order/beside_first.csv clash_order/rib_first.csv)
