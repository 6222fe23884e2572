// commands.hpp: the commands of the program, a file each.
//
// `add_NAME` declares the command's options on `app`; the function that does the work runs when the
// command was chosen, and its status is the program's. Failures leave it as exceptions, which main
// turns into one line on stderr and the contract's exit status.
#pragma once
#include <CLI/CLI.hpp>
#include <functional>

#include "plugin/sources/input_error.hpp"

namespace airlatch {

using Run = std::function<ExitStatus()>;

Run add_replay(CLI::App& app);
Run add_rehearse(CLI::App& app);
Run add_report(CLI::App& app);
Run add_compare(CLI::App& app);
Run add_capture(CLI::App& app);
Run add_instruments(CLI::App& app);
Run add_export(CLI::App& app);
Run add_pipe(CLI::App& app);
Run add_ledger(CLI::App& app);

}  // namespace airlatch
