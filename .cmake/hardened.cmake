# SPDX-License-Identifier: GPL-3.0-or-later
# What makes a fault in memory hard to use, as Debian builds its packages. The links are so in every build;
# what costs instructions (tests/bench/RESULTS.md) where AIRLATCH_HARDENED is on: release and package.
# Not -fcf-protection: Debian 12's start files lack its mark, so the linker takes it from the whole.
#     tests/package/hardened looks at what was built.
option(AIRLATCH_HARDENED "Checks of buffers, stack and library calls in what is built" OFF)

include(CheckPIESupported)
check_pie_supported()  # CMAKE_POSITION_INDEPENDENT_CODE then holds for programs, too
add_link_options(LINKER:-z,relro LINKER:-z,now)
if(AIRLATCH_HARDENED)
  add_compile_options(-fstack-protector-strong -fstack-clash-protection)
  add_compile_definitions(_FORTIFY_SOURCE=2 $<$<COMPILE_LANGUAGE:CXX>:_GLIBCXX_ASSERTIONS>)
endif()
