// sndfile.hpp: what is used of libsndfile (sound files), loaded when it is first called.
#pragma once
#include <sndfile.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kSndfile{"libsndfile.so.1", "libsndfile1"};
AIRLATCH_LAZY(kSndfile, sf_close)
AIRLATCH_LAZY(kSndfile, sf_open)
AIRLATCH_LAZY(kSndfile, sf_readf_float)
AIRLATCH_LAZY(kSndfile, sf_strerror)

}  // namespace airlatch::lazy
