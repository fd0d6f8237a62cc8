# SPDX-License-Identifier: MIT
# One program file that runs without the packages it was built with: the same objects, linked with
# static libraries, Debian's where it has them.
set(usual_suffixes ${CMAKE_FIND_LIBRARY_SUFFIXES})
set(CMAKE_FIND_LIBRARY_SUFFIXES .a)
set(archives)
foreach(name csv png tiff jpeg webp zstd deflate Lerc jbig lzma z)
  find_library(STATIC_${name} ${name} REQUIRED)
  list(APPEND archives ${STATIC_${name}})
endforeach()
set(CMAKE_FIND_LIBRARY_SUFFIXES ${usual_suffixes})  # for the tests' libraries

add_executable(meltlag_static $<TARGET_OBJECTS:meltlag>)
set_target_properties(meltlag_static PROPERTIES
  OUTPUT_NAME meltlag RUNTIME_OUTPUT_DIRECTORY ${PROJECT_BINARY_DIR}/static)
foreach(room page report profile compare scan fit reading testpiece adapt judge schedule solve melt motion gcode
        base ceres fmt)
  add_dependencies(meltlag_static ${room})
  list(APPEND room_files $<TARGET_FILE:${room}>)
endforeach()
target_link_libraries(meltlag_static PRIVATE -static ${room_files} ${archives})
