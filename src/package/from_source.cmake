# SPDX-License-Identifier: MIT
# Libraries of programs that need no package where they run: the static one and the cross-built one. Debian
# has static code of neither, or none that stands alone, so headers are compiled in, and the rest comes from
# Debian's own source packages. What is missing in MELTLAG_SOURCES is fetched.
set(MELTLAG_SOURCES ${PROJECT_SOURCE_DIR}/build-sources CACHE PATH "Folder of Debian's source packages")
function(need_sources)
  set(missing)
  foreach(name IN LISTS ARGN)
    if(NOT EXISTS ${MELTLAG_SOURCES}/${name})
      list(APPEND missing ${name})
    endif()
  endforeach()
  if(missing)
    execute_process(COMMAND ${PROJECT_SOURCE_DIR}/.ci/sources ${MELTLAG_SOURCES} ${missing}
                    COMMAND_ERROR_IS_FATAL ANY)
  endif()
endfunction()

# A library compiled from FILES, its headers in the folders INCLUDE.
function(foreign_library name)
  cmake_parse_arguments(ARG "" "" "INCLUDE;FILES" ${ARGN})
  add_library(${name} STATIC EXCLUDE_FROM_ALL ${ARG_FILES})
  foreach(folder IN LISTS ARG_INCLUDE)
    target_include_directories(${name} SYSTEM PUBLIC $<BUILD_INTERFACE:${folder}>)
  endforeach()
  target_compile_options(${name} PRIVATE -w)
  target_compile_definitions(${name} PRIVATE NDEBUG)
  set_target_properties(${name} PROPERTIES OUTPUT_NAME meltlag_${name} UNITY_BUILD OFF)
endfunction()

# A library of headers alone, with the definitions that it wants for that. They are in FOREIGN_HEADERS
# where the system's own folder of headers must not be seen.
function(header_library name)
  add_library(${name} INTERFACE IMPORTED)
  target_include_directories(${name} SYSTEM INTERFACE ${FOREIGN_HEADERS})
  target_compile_definitions(${name} INTERFACE ${ARGN})
endfunction()

need_sources(ceres-solver fmtlib)
header_library(spdlog::spdlog SPDLOG_FMT_EXTERNAL)
header_library(tomlplusplus::tomlplusplus)

# In its own form of headers alone, each source that formats would take four seconds longer to compile.
foreign_library(fmt INCLUDE ${MELTLAG_SOURCES}/fmtlib/include FILES ${MELTLAG_SOURCES}/fmtlib/src/format.cc)
add_library(fmt::fmt ALIAS fmt)

# The solver: its dense part, its own small logging, one thread (fits are small), no optional back end. Left
# out are its tests and what no fit here reaches; the covariance alone would take a fifth of the work.
set(ceres ${MELTLAG_SOURCES}/ceres-solver)
file(GLOB ceres_files ${ceres}/internal/ceres/*.cc ${ceres}/internal/ceres/generated/*_d_d_d.cc)
foreach(unused _test _benchmark test_util test_utils gmock_gtest_all gmock_main /parallel_for_cxx /parallel_for_openmp
        /thread_pool /c_api /covariance /covariance_impl /gradient_problem /gradient_problem_solver
        /local_parameterization /normal_prior /sparse_normal_cholesky_solver /dynamic_sparse_normal_cholesky_solver)
  list(FILTER ceres_files EXCLUDE REGEX "${unused}[.]cc$")
endforeach()
# Apart stay files with a limit of Eigen's of their own or with names that clash.
foreach(apart generated/schur_eliminator_d_d_d line_search_preprocessor)
  set_source_files_properties(${ceres}/internal/ceres/${apart}.cc PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
endforeach()
foreign_library(ceres INCLUDE ${PROJECT_BINARY_DIR}/ceres ${ceres}/include ${ceres}/internal/ceres/miniglog
                FILES ${ceres_files} ${ceres}/internal/ceres/miniglog/glog/logging.cc)
foreach(without NO_LAPACK NO_SUITESPARSE NO_CXSPARSE NO_CUDA NO_ACCELERATE_SPARSE
        RESTRICT_SCHUR_SPECIALIZATION NO_THREADS)
  set(CERES_${without} "#define CERES_${without}")
endforeach()
configure_file(${ceres}/cmake/config.h.in ${PROJECT_BINARY_DIR}/ceres/ceres/internal/config.h @ONLY)
file(CONFIGURE OUTPUT ${PROJECT_BINARY_DIR}/ceres/ceres/internal/export.h CONTENT [[#pragma once
#define CERES_EXPORT
#define CERES_NO_EXPORT
#define CERES_DEPRECATED __attribute__((__deprecated__))
#define CERES_DEPRECATED_EXPORT CERES_DEPRECATED
#define CERES_DEPRECATED_NO_EXPORT CERES_DEPRECATED
]])
target_include_directories(ceres PRIVATE ${ceres}/internal)
target_link_libraries(ceres PUBLIC Eigen3::Eigen)
target_compile_options(ceres PRIVATE -O1)
target_compile_definitions(ceres PRIVATE MAX_LOG_LEVEL=-3)  # its summary says what goes wrong
set_target_properties(ceres PROPERTIES CXX_STANDARD 17 UNITY_BUILD ON UNITY_BUILD_BATCH_SIZE 24)
add_library(ceres_solver INTERFACE)
target_link_libraries(ceres_solver INTERFACE ceres)
