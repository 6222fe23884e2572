// SPDX-License-Identifier: GPL-3.0-or-later
// write_all.hpp: bytes to a file descriptor, all of them.
#pragma once
#include <string_view>

namespace airlatch {

// False, with errno, where they could not be written. Interrupted and partial writes are gone on
// with, and a descriptor that another program made non-blocking is waited for.
bool write_all(int fd, std::string_view bytes);

}  // namespace airlatch
