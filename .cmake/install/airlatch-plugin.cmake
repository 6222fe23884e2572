include(${CMAKE_CURRENT_LIST_DIR}/airlatch-plugin-targets.cmake)
