// SPDX-License-Identifier: GPL-3.0-or-later
// What nearly every decoder includes, compiled once.
#include <boost/signals2/signal.hpp>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
