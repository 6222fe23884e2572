# SPDX-License-Identifier: GPL-3.0-or-later
# What a decoder outside the tree needs beside airlatch, for find_package and as Debian packages: the
# one list that the CMake package and libairlatch-dev are made of.
set(AIRLATCH_DECODER_FINDS "Boost 1.74" "Eigen3 3.4 NO_MODULE" "fmt")
set(AIRLATCH_DECODER_PACKAGES libboost-dev libeigen3-dev libfmt-dev)
