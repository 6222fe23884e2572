// SPDX-License-Identifier: GPL-3.0-or-later
// What nearly every command includes, compiled once.
#include <fmt/format.h>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/message/report.hpp"
