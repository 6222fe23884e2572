// sndfile.hpp: what is used of libsndfile (sound files), loaded when it is first called.
#pragma once
#include <sndfile.h>

#include "plugin/sources/late/library.hpp"

namespace airlatch {

inline constexpr LateLibrary kSndfile{"libsndfile.so.1", "libsndfile1"};
AIRLATCH_LATE(kSndfile, sf_close)
AIRLATCH_LATE(kSndfile, sf_open)
AIRLATCH_LATE(kSndfile, sf_readf_float)
AIRLATCH_LATE(kSndfile, sf_strerror)

}  // namespace airlatch
