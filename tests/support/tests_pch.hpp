// SPDX-License-Identifier: GPL-3.0-or-later
// What nearly every test includes, compiled once: other people's headers only, so that no edit here
// makes all tests be compiled again.
#include <gtest/gtest.h>

#include <algorithm>
#include <boost/signals2/signal.hpp>
#include <map>
#include <string>
#include <vector>
