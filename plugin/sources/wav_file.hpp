// SPDX-License-Identifier: GPL-3.0-or-later
// wav_file.hpp: WAV from sound cards and audio-format DAQ units, through libsndfile.
//
// Out   one channel a track, named CH1, CH2 ...; values of full scale -1 ... 1 (floats as stored).
#pragma once
#include <memory>
#include <string>

#include "plugin/sources/source.hpp"
#include "plugin/system/input_file.hpp"

namespace airlatch {

// Throws InputError.
std::unique_ptr<Source> open_wav_file(const InputFile& file);

}  // namespace airlatch
