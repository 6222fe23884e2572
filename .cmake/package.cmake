# SPDX-License-Identifier: GPL-3.0-or-later
# Two Debian packages: airlatch to use, libairlatch-dev to build against it.   tests/package/check
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME airlatch)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT "The airlatch developers <airlatch@example.org>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ
  GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL airlatch plugin debian development)
set(CPACK_COMPONENT_AIRLATCH_GROUP use)
set(CPACK_COMPONENT_PLUGIN_GROUP use)
set(CPACK_COMPONENT_DEBIAN_GROUP use)
set(CPACK_COMPONENT_DEVELOPMENT_GROUP build)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)

set(CPACK_DEBIAN_USE_PACKAGE_NAME airlatch)
set(CPACK_DEBIAN_USE_PACKAGE_SECTION electronics)
set(CPACK_DEBIAN_USE_DESCRIPTION "test bench for air-operated door locks of older cars
Decodes captured voltage, current and pressure of a reversible lock pump into
events with uncertainties, names the likely fault, and writes test reports.
Holds the program, and the plugin for other logging hosts.")
set(CPACK_DEBIAN_USE_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS_PRIVATE_DIRS ${PROJECT_BINARY_DIR}/plugin)
set(CPACK_DEBIAN_PACKAGE_GENERATE_SHLIBS ON)
set(CPACK_DEBIAN_PACKAGE_GENERATE_SHLIBS_POLICY ">=")
set(CPACK_DEBIAN_USE_PACKAGE_CONTROL_EXTRA ${CMAKE_CURRENT_LIST_DIR}/triggers)
# Loaded when first needed, so that no tool sees them: plugin/system/lazy.
set(CPACK_DEBIAN_USE_PACKAGE_DEPENDS
  "fonts-dejavu-core, libcairo2, libglib2.0-0, libhdf5-103-1, libmatio11, libpango-1.0-0, libpangocairo-1.0-0, libsigrok4, libsndfile1, libsqlite3-0, libssl3, libzip4")

set(CPACK_DEBIAN_BUILD_PACKAGE_NAME libairlatch-dev)
set(CPACK_DEBIAN_BUILD_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_BUILD_DESCRIPTION "test bench for air-operated door locks, development files
Headers, pkg-config and CMake files for hosts of the airlatch plugin, and the
decoders as static libraries for those who write further ones.")
set(CPACK_DEBIAN_BUILD_PACKAGE_SHLIBDEPS OFF)
include(${CMAKE_CURRENT_LIST_DIR}/install/decoder_dependencies.cmake)
list(JOIN AIRLATCH_DECODER_PACKAGES ", " decoder_packages)
set(CPACK_DEBIAN_BUILD_PACKAGE_DEPENDS
  "airlatch (= ${PROJECT_VERSION}), libsigrok-dev, ${decoder_packages}")
include(CPack)
