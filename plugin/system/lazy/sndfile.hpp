// SPDX-License-Identifier: GPL-3.0-or-later
// sndfile.hpp: the functions of libsndfile (sound files) that are used, loaded at their first call.
#pragma once
#include <sndfile.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kSndfile{"libsndfile.so.1", "libsndfile1"};
AIRLATCH_LAZY(kSndfile, sf_close)
AIRLATCH_LAZY(kSndfile, sf_open)
AIRLATCH_LAZY(kSndfile, sf_readf_float)

}  // namespace airlatch::lazy
