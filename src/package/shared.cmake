# SPDX-License-Identifier: MIT
# Libraries that Debian has as shared code, of a program that runs where they are installed.
find_package(fmt REQUIRED)
find_package(spdlog REQUIRED)
find_package(tomlplusplus REQUIRED)
# Ceres by hand: its package file insists on headers of one unwinder where another is installed.
find_path(CERES_INCLUDE_DIR ceres/ceres.h REQUIRED)
find_library(CERES_LIBRARY ceres REQUIRED)
find_library(GLOG_LIBRARY glog REQUIRED)
add_library(ceres_solver INTERFACE)
target_include_directories(ceres_solver SYSTEM INTERFACE ${CERES_INCLUDE_DIR})
target_link_libraries(ceres_solver INTERFACE ${CERES_LIBRARY} ${GLOG_LIBRARY} Eigen3::Eigen)
