# SPDX-License-Identifier: MIT
# What `cmake --install` and the Debian package put into place.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

set(program meltlag)
if(MELTLAG_STATIC)
  set(program meltlag_static)
endif()
install(TARGETS ${program} RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR} COMPONENT program)
install(DIRECTORY profiles DESTINATION ${CMAKE_INSTALL_DATADIR}/meltlag COMPONENT program)
if(CMAKE_CROSSCOMPILING)
  return()
endif()

# Manual pages and completion come from the commands themselves, so that they say what --help says.
set(documents ${PROJECT_BINARY_DIR}/documents)
add_custom_command(OUTPUT ${documents}/man/meltlag.1 DEPENDS meltlag
                   COMMAND ${CMAKE_COMMAND} -E rm -rf ${documents}
                   COMMAND ${CMAKE_COMMAND} -E make_directory ${documents}/man
                   COMMAND meltlag documents ${documents})
add_custom_target(documents ALL DEPENDS ${documents}/man/meltlag.1)
install(DIRECTORY ${documents}/man/ DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT program)
install(FILES ${documents}/completion
        DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME meltlag
        COMPONENT program)
install(FILES README.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)

# The library: find_package(meltlag), then link meltlag::meltlag.
set(rooms base gcode motion melt solve schedule judge adapt testpiece reading fit scan compare profile report page)
add_library(meltlag_library INTERFACE)
set_target_properties(meltlag_library PROPERTIES EXPORT_NAME meltlag)
target_link_libraries(meltlag_library INTERFACE ${rooms})
target_include_directories(meltlag_library INTERFACE $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}>)
target_compile_features(meltlag_library INTERFACE cxx_std_20)
foreach(room IN LISTS rooms)
  set_target_properties(${room} PROPERTIES OUTPUT_NAME meltlag_${room})
endforeach()
set(own_libraries)
if(MELTLAG_STATIC)
  set(own_libraries ceres fmt)
endif()
install(TARGETS meltlag_library ceres_solver ${rooms} ${own_libraries} EXPORT meltlag-targets
        ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT development)
install(DIRECTORY include/meltlag DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} COMPONENT development)
set(config_folder ${CMAKE_INSTALL_LIBDIR}/cmake/meltlag)
install(EXPORT meltlag-targets NAMESPACE meltlag:: DESTINATION ${config_folder}
        COMPONENT development)
configure_package_config_file(src/package/meltlag-config.cmake.in
                              ${PROJECT_BINARY_DIR}/meltlag-config.cmake
                              INSTALL_DESTINATION ${config_folder})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/meltlag-config-version.cmake
                                 COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/meltlag-config.cmake
              ${PROJECT_BINARY_DIR}/meltlag-config-version.cmake
        DESTINATION ${config_folder} COMPONENT development)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_CONTACT "The Meltlag authors <meltlag@localhost>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "G-code that suits the lag of a granule extruder")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_GROUPING IGNORE)
set(CPACK_COMPONENTS_ALL program development)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME meltlag)
set(CPACK_DEBIAN_PROGRAM_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SECTION misc)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libmeltlag-dev)
set(CPACK_DEBIAN_DEVELOPMENT_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
string(JOIN ", " CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS libfmt-dev libcsv-dev "libboost-dev | libboost1.81-dev"
       libtomlplusplus-dev nlohmann-json3-dev libeigen3-dev libpng-dev libjpeg-dev libtiff-dev)
if(NOT MELTLAG_STATIC)
  string(APPEND CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS ", libceres-dev")
endif()
if(MELTLAG_STATIC)
  set(CPACK_DEBIAN_PROGRAM_PACKAGE_DEPENDS "")
else()
  set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
endif()
include(CPack)
