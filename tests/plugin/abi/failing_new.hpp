// SPDX-License-Identifier: GPL-3.0-or-later
// failing_new.hpp: allocations of the calling thread that fail when asked to.
#pragma once

namespace airlatch::test {
// This many more allocations succeed, then one fails; below 0: none does.
extern thread_local long fail_in;
}  // namespace airlatch::test
