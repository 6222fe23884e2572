# find_package(airlatch): airlatch::airlatch_plugin (the C ABI), airlatch::airlatch_tap, and
# airlatch::airlatch_decoders for those who write a decoder.
include(CMakeFindDependencyMacro)
find_dependency(Protobuf)
find_dependency(Boost 1.74)
find_dependency(Eigen3 3.4 NO_MODULE)
find_dependency(fmt)
include(${CMAKE_CURRENT_LIST_DIR}/airlatchTargets.cmake)
