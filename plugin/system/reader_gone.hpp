// SPDX-License-Identifier: GPL-3.0-or-later
// reader_gone.hpp: the reader of our output has gone (`| head -1`): the work ends quietly.
#pragma once
#include <stdexcept>

namespace airlatch {

struct ReaderGone : std::runtime_error {
  ReaderGone() : std::runtime_error("the reader of the output has gone") {}
};

}  // namespace airlatch
