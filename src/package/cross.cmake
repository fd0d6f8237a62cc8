# SPDX-License-Identifier: MIT
# Libraries of the cross-built program. Headers are taken one by one, as the build system's own C headers
# must not be seen.
include(ExternalProject)
set(FOREIGN_HEADERS ${PROJECT_BINARY_DIR}/headers)
file(MAKE_DIRECTORY ${FOREIGN_HEADERS})
foreach(name boost CLI nlohmann spdlog toml++ eigen3/Eigen)
  get_filename_component(link ${name} NAME)
  if(NOT EXISTS /usr/include/${name})
    message(FATAL_ERROR "/usr/include/${name} is missing: .ci/install build")
  endif()
  file(CREATE_LINK /usr/include/${name} ${FOREIGN_HEADERS}/${link} SYMBOLIC)
endforeach()
include(src/package/from_source.cmake)
header_library(Boost::headers)
header_library(CLI11::CLI11)
header_library(nlohmann_json::nlohmann_json)
header_library(Eigen3::Eigen)

need_sources(libcsv libpng1.6 libjpeg-turbo tiff)
foreign_library(csv INCLUDE ${MELTLAG_SOURCES}/libcsv FILES ${MELTLAG_SOURCES}/libcsv/libcsv.c)

# The readers of pictures, each built its own way, without tests and programs. TIFF is read as scanners
# write it (plain, LZW, deflate, PackBits, fax, JPEG); of rarer packings its reader says that it lacks them.
set(pictures ${PROJECT_BINARY_DIR}/pictures)
file(MAKE_DIRECTORY ${pictures}/include)
function(picture_reader target source file)
  cmake_parse_arguments(ARG "" "" "USES;OPTIONS" ${ARGN})
  list(TRANSFORM ARG_USES REPLACE "(.+)::.+" "read_\\1" OUTPUT_VARIABLE first)  # JPEG::JPEG by read_JPEG
  string(REGEX REPLACE "::.*" "" name ${target})
  ExternalProject_Add(read_${name}
    SOURCE_DIR ${MELTLAG_SOURCES}/${source}
    PREFIX ${PROJECT_BINARY_DIR}/read_${name}
    CMAKE_ARGS -DCMAKE_TOOLCHAIN_FILE=${CMAKE_TOOLCHAIN_FILE} -DCMAKE_BUILD_TYPE=Release
               -DCMAKE_INSTALL_PREFIX=${pictures} -DCMAKE_INSTALL_LIBDIR=${pictures}/lib -DBUILD_SHARED_LIBS=OFF
               "-DCMAKE_C_FLAGS=-w -fexceptions" ${ARG_OPTIONS}
    DEPENDS ${first}
    BUILD_BYPRODUCTS ${pictures}/lib/${file})
  add_library(${target} STATIC IMPORTED)
  set_target_properties(${target} PROPERTIES IMPORTED_LOCATION ${pictures}/lib/${file}
                        INTERFACE_INCLUDE_DIRECTORIES ${pictures}/include
                        INTERFACE_LINK_LIBRARIES "${ARG_USES};z")
  add_dependencies(${target} read_${name})
endfunction()
picture_reader(PNG::PNG libpng1.6 libpng16.a OPTIONS -DPNG_SHARED=OFF -DPNG_TESTS=OFF)
picture_reader(JPEG::JPEG libjpeg-turbo libjpeg.a OPTIONS -DENABLE_SHARED=OFF -DWITH_TURBOJPEG=OFF -DWITH_SIMD=OFF)
picture_reader(TIFF::TIFF tiff libtiff.a USES JPEG::JPEG
               OPTIONS -DJPEG_LIBRARY=${pictures}/lib/libjpeg.a -DJPEG_INCLUDE_DIR=${pictures}/include
                       -Dtiff-tools=OFF -Dtiff-tests=OFF -Dtiff-docs=OFF -Dtiff-contrib=OFF -Dcxx=OFF
                       -Djpeg=ON -Dzlib=ON -Dlibdeflate=OFF -Dwebp=OFF -Dzstd=OFF -Dlzma=OFF -Dlerc=OFF -Djbig=OFF)
