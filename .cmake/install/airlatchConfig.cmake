# SPDX-License-Identifier: GPL-3.0-or-later
# find_package(airlatch [COMPONENTS plugin tap decoders]); without any named: plugin.
#   plugin    airlatch::airlatch_plugin, the C interface; looks up nothing else, needs C alone
#   tap       airlatch::airlatch_tap, into a libsigrok session; looks up libsigrok
#   decoders  airlatch::airlatch_decoders, for those who write a decoder in C++, with what it needs
set(airlatch_wanted ${airlatch_FIND_COMPONENTS})
if(NOT airlatch_wanted)
  set(airlatch_wanted plugin)
endif()
include(CMakeFindDependencyMacro)
foreach(airlatch_component IN LISTS airlatch_wanted)
  # Set to false by find_dependency, which leaves the component's file.
  set(airlatch_FOUND TRUE)
  set(airlatch_${airlatch_component}_FOUND FALSE)
  set(airlatch_reason "there is no component ${airlatch_component}")
  include(${CMAKE_CURRENT_LIST_DIR}/airlatch-${airlatch_component}.cmake OPTIONAL
    RESULT_VARIABLE airlatch_file)
  if(airlatch_file AND airlatch_FOUND)
    set(airlatch_${airlatch_component}_FOUND TRUE)
    continue()
  endif()
  if(airlatch_file)
    set(airlatch_reason "${airlatch_NOT_FOUND_MESSAGE}")
  endif()
  if(airlatch_FIND_REQUIRED_${airlatch_component} OR NOT airlatch_FIND_COMPONENTS)
    set(airlatch_FOUND FALSE)
    set(airlatch_NOT_FOUND_MESSAGE "${airlatch_component}: ${airlatch_reason}")
    return()
  endif()
endforeach()
set(airlatch_FOUND TRUE)
unset(airlatch_NOT_FOUND_MESSAGE)
