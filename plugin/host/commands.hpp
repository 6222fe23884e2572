// SPDX-License-Identifier: GPL-3.0-or-later
// commands.hpp: the commands of the program, a file each.
//
// `add_NAME` declares the command's options; the function that does the work runs when the
// command was chosen, and its status is the program's. Failures leave it as exceptions, which main
// turns into one line on stderr and the contract's exit status.
#pragma once
#include <functional>

#include "plugin/host/arguments.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {

using Run = std::function<ExitStatus()>;

Run add_replay(Arguments app);
Run add_rehearse(Arguments app);
Run add_report(Arguments app);
Run add_compare(Arguments app);
Run add_capture(Arguments app);
Run add_instruments(Arguments app);
Run add_export(Arguments app);
Run add_pipe(Arguments app);
Run add_rig(Arguments app);
Run add_ledger(Arguments app);

}  // namespace airlatch
