# The include rule, run by CTest: cmake -DROOT=<repository> -P check_includes.cmake
#   kinematics <- sim <- verify <- tools; tests may include all.
#   Our headers are included from the root, in quotes.
#   A third-party header appears only in the files that adapt it.
#   Inside a folder the headers include each other without a cycle.
cmake_minimum_required(VERSION 3.25)

set(may_kinematics kinematics)
set(may_sim kinematics sim)
set(may_verify kinematics sim verify)
set(may_tools kinematics sim verify tools)
set(may_tests kinematics sim verify tools tests)
set(libraries kinematics sim verify)

# Third-party headers in the libraries: "<header> in <files that may>".
set(adapters
  "^Eigen/ in ^(kinematics|sim|verify)/"
  "^yaml-cpp/ in ^sim/(yaml_parser|yaml_reader|cell_yaml|job_yaml)[.](h|cc)$"
  "^nlohmann/ in ^verify/(report_(json_parts|parts|solids)[.]h|(report_(rebuild|picture|comparison)|compare_page|scan_page)[.]cc)$"
  "^assimp/ in ^sim/mesh_import[.]cc$"
  "^png[.]h in ^(sim/grey_image|verify/png_file)[.]cc$"
  "^tinyxml2[.]h in ^sim/urdf(_tree)?[.]cc$"
  "^openssl/ in ^sim/file_hash[.]cc$"
  "^xxhash[.]h in ^sim/sealed_file[.]cc$"
  "^(tbb|oneapi)/ in ^(sim|verify)/[a-z0-9_]+[.]cc$"
  "^fmt/ in ^(sim|verify)/[a-z0-9_]+[.]cc$")
# The standard library: no folder, no suffix (a few C headers keep theirs out).
set(standard "^[a-z_]+[0-9]*$")
# Headers of the compiler and of the system that kernels, memory and timing may need.
set(system "^(immintrin[.]h|x86intrin[.]h|sys/mman[.]h|sys/resource[.]h|stdio[.]h|unistd[.]h|fcntl[.]h)$")

set(faults "")

function(check_own file folder header)
  if(NOT EXISTS "${ROOT}/${header}")
    set(faults ${faults} "${file}: \"${header}\" is not written from the root" PARENT_SCOPE)
    return()
  endif()
  string(REGEX REPLACE "/.*" "" target "${header}")
  if(NOT target IN_LIST may_${folder})
    set(faults ${faults} "${file}: ${folder} must not include ${target} (\"${header}\")" PARENT_SCOPE)
  endif()
endfunction()

function(check_foreign file header)
  if(header MATCHES "${standard}" OR header MATCHES "${system}")
    return()
  endif()
  foreach(adapter IN LISTS adapters)
    string(REPLACE " in " ";" pair "${adapter}")
    list(GET pair 0 headers)
    list(GET pair 1 allowed)
    if(header MATCHES "${headers}")
      if(NOT file MATCHES "${allowed}")
        set(faults ${faults} "${file}: <${header}> belongs into its adapter file only" PARENT_SCOPE)
      endif()
      return()
    endif()
  endforeach()
  set(faults ${faults} "${file}: <${header}> is no header that a library may include" PARENT_SCOPE)
endfunction()

foreach(folder kinematics sim verify tools tests)
  file(GLOB_RECURSE files RELATIVE "${ROOT}" "${ROOT}/${folder}/*.h" "${ROOT}/${folder}/*.cc")
  list(SORT files)
  set(headers "")
  foreach(file IN LISTS files)
    if(file MATCHES "[.]h$")
      list(APPEND headers "${file}")
    endif()
    file(STRINGS "${ROOT}/${file}" lines REGEX "^[ \t]*#[ \t]*include")
    foreach(line IN LISTS lines)
      if(line MATCHES "#[ \t]*include[ \t]*\"([^\"]+)\"")
        set(header "${CMAKE_MATCH_1}")
        check_own("${file}" "${folder}" "${header}")
        list(APPEND "needs_${file}" "${header}")
      elseif(line MATCHES "#[ \t]*include[ \t]*<([^>]+)>" AND folder IN_LIST libraries)
        check_foreign("${file}" "${CMAKE_MATCH_1}")
      endif()
    endforeach()
  endforeach()

  # Take away headers that need no other one; what stays is in or behind a cycle.
  set(going TRUE)
  while(going)
    set(going FALSE)
    foreach(header IN LISTS headers)
      set(open FALSE)
      foreach(other IN LISTS "needs_${header}")
        if(other IN_LIST headers)
          set(open TRUE)
          break()
        endif()
      endforeach()
      if(NOT open)
        list(REMOVE_ITEM headers "${header}")
        set(going TRUE)
      endif()
    endforeach()
  endwhile()
  if(headers)
    list(JOIN headers ", " text)
    list(APPEND faults "${folder}: an include cycle runs through some of ${text}")
  endif()
endforeach()

foreach(fault IN LISTS faults)
  message("${fault}")
endforeach()
list(LENGTH faults count)
if(count GREATER 0)
  message(FATAL_ERROR "include rule broken ${count} times")
endif()
