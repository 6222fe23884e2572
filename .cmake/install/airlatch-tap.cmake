# SPDX-License-Identifier: GPL-3.0-or-later
include(${CMAKE_CURRENT_LIST_DIR}/airlatch-plugin.cmake)
find_dependency(PkgConfig)
pkg_check_modules(airlatch_libsigrok QUIET IMPORTED_TARGET libsigrok)
if(airlatch_libsigrok_FOUND)
  include(${CMAKE_CURRENT_LIST_DIR}/airlatch-tap-targets.cmake)
  set_property(TARGET airlatch::airlatch_tap APPEND PROPERTY
    INTERFACE_LINK_LIBRARIES PkgConfig::airlatch_libsigrok)
else()
  set(airlatch_FOUND FALSE)
  set(airlatch_NOT_FOUND_MESSAGE "libsigrok is not there")
endif()
