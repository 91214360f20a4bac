# Makes the scene of the real scan in a folder of its own, from the npm package that holds it:
# cmake -DMAKE_SCENES= -DSCENE= -DPACKAGE= -DOUT= -P make_scan.cmake
file(MAKE_DIRECTORY ${OUT})
file(GLOB files ${SCENE}/*.yaml)
file(COPY ${files} DESTINATION ${OUT})
foreach(command "scan-package;${PACKAGE};${OUT}/scan_240mm.ply" "scan;${OUT}/scan_240mm.ply;${OUT}")
  execute_process(COMMAND ${MAKE_SCENES} ${command} COMMAND_ERROR_IS_FATAL ANY)
endforeach()
