// SPDX-License-Identifier: GPL-3.0-or-later
// matio.hpp: the functions of matio (MAT files) that are used, loaded at their first call.
#pragma once
#include <matio.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kMatio{"libmatio.so.11", "libmatio11"};
AIRLATCH_LAZY(kMatio, Mat_Close)
AIRLATCH_LAZY(kMatio, Mat_Open)
AIRLATCH_LAZY(kMatio, Mat_VarFree)
AIRLATCH_LAZY(kMatio, Mat_VarGetNumberOfFields)
AIRLATCH_LAZY(kMatio, Mat_VarGetStructFieldByIndex)
AIRLATCH_LAZY(kMatio, Mat_VarGetStructFieldnames)
AIRLATCH_LAZY(kMatio, Mat_VarReadDataAll)
AIRLATCH_LAZY(kMatio, Mat_VarReadNextInfo)

}  // namespace airlatch::lazy
