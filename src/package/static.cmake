# SPDX-License-Identifier: MIT
# One program file that runs without the packages it was built with: the same objects, linked with
# static libraries. Debian has no static code of three libraries; their headers are compiled in.
set(usual_suffixes ${CMAKE_FIND_LIBRARY_SUFFIXES})
set(CMAKE_FIND_LIBRARY_SUFFIXES .a)
set(archives)
foreach(name ceres glog gflags spqr cholmod ccolamd camd colamd amd cxsparse suitesparseconfig csv
        png tiff jpeg webp zstd deflate Lerc jbig lzma z)
  find_library(STATIC_${name} ${name} REQUIRED)
  list(APPEND archives ${STATIC_${name}})
endforeach()
foreach(name lapack blas)  # the plain ones: what else is chosen on a system may want more
  find_library(STATIC_${name} ${name} PATH_SUFFIXES ${name} HINTS
               /usr/lib/${CMAKE_LIBRARY_ARCHITECTURE}/${name} NO_DEFAULT_PATH)
  find_library(STATIC_${name} ${name} REQUIRED)
  list(APPEND archives ${STATIC_${name}})
endforeach()
execute_process(COMMAND ${CMAKE_CXX_COMPILER} -print-file-name=libgfortran.a
                OUTPUT_VARIABLE fortran_runtime OUTPUT_STRIP_TRAILING_WHITESPACE)
if(NOT IS_ABSOLUTE "${fortran_runtime}" OR NOT EXISTS "/usr/lib/${CMAKE_LIBRARY_ARCHITECTURE}/lapack/liblapack.a")
  message(FATAL_ERROR "The static program needs the static libraries of Fortran, LAPACK and BLAS: run .ci/install static")
endif()
set(CMAKE_FIND_LIBRARY_SUFFIXES ${usual_suffixes})  # for the tests' libraries
set(rooms page report profile compare scan fit reading testpiece adapt judge schedule solve melt motion gcode base)

add_executable(meltlag_static
  $<FILTER:$<TARGET_OBJECTS:meltlag>,EXCLUDE,cli/output[.]cpp> src/cli/output.cpp
  src/package/absent.cpp src/package/inside_fmt.cpp src/package/inside_toml.cpp)
target_include_directories(meltlag_static PRIVATE include src/cli)
target_compile_definitions(meltlag_static PRIVATE SPDLOG_FMT_EXTERNAL)
set_target_properties(meltlag_static PROPERTIES
  OUTPUT_NAME meltlag RUNTIME_OUTPUT_DIRECTORY ${PROJECT_BINARY_DIR}/static)
foreach(room IN LISTS rooms)
  add_dependencies(meltlag_static ${room})
  list(APPEND room_files $<TARGET_FILE:${room}>)
endforeach()
# The Fortran runtime asks for threads weakly: a static link must be told to bring all of them.
foreach(name create join self key_create key_delete getspecific setspecific mutex_init mutex_lock
        mutex_trylock mutex_unlock mutex_destroy cond_init cond_wait cond_broadcast cond_destroy)
  target_link_options(meltlag_static PRIVATE -Wl,-u,pthread_${name})
endforeach()
target_link_options(meltlag_static PRIVATE -Wl,-u,__pthread_key_create)
target_link_libraries(meltlag_static PRIVATE -static ${room_files} -Wl,--start-group ${archives}
                                             gfortran quadmath gomp pthread -Wl,--end-group)
