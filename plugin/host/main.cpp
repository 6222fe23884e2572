// SPDX-License-Identifier: GPL-3.0-or-later
// The program: finds the command, runs it, and turns what goes wrong into one line and a status.
#include <fcntl.h>
#include <fmt/format.h>
#include <google/protobuf/stubs/logging.h>
#include <malloc.h>
#include <sys/mman.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <new>
#include <string>
#include <system_error>
#include <tuple>
#include <vector>

#include "plugin/host/commands.hpp"
#include "plugin/host/describe.hpp"
#include "plugin/host/help.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/tell.hpp"

namespace {
using airlatch::ExitStatus;

int leave(airlatch::ExitStatus status) { return static_cast<int>(status); }

int complain(const std::string& what, airlatch::ExitStatus status) {
  airlatch::tell_error(what);
  return leave(status);
}

// Every 4 KiB touched for the first time cost a page fault, more than decoding what they hold. So
// the heap's next 32 MiB (address space, not yet memory) may come in pages of 2 MiB, which threads
// use too, and the memory that a run needed for its fits is kept for the next run.
void keep_memory() {
  constexpr std::uintptr_t kHeap = 32 << 20;
  constexpr std::uintptr_t kLargePage = 2 << 20;
  mallopt(M_MMAP_THRESHOLD, kHeap / 2);
  mallopt(M_TRIM_THRESHOLD, 2 * kHeap);
  mallopt(M_ARENA_MAX, 1);
  mallopt(M_TOP_PAD, kHeap);
  char* const begin = static_cast<char*>(sbrk(0));
  const std::uintptr_t before_large = -reinterpret_cast<std::uintptr_t>(begin) % kLargePage;
  char* const first = begin + before_large;
  // Never touched nor freed: what follows it begins where large pages do.
  [[maybe_unused]] static void* const volatile before = std::malloc(before_large + 4096);
  mallopt(M_TOP_PAD, kHeap / 32);
  const char* const end = static_cast<char*>(sbrk(0));
  if (end > first)  // refused: small pages, slower
    madvise(first, static_cast<std::size_t>(end - first), MADV_HUGEPAGE);
}

// A file that we open must not get the number of a standard one that was closed: what is printed
// would go into it. Opened the wrong way round, they fail as closed ones do.
void keep_standard_files_apart() {
  for (const int fd : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
    if (::fcntl(fd, F_GETFD) < 0)
      std::ignore = ::open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

int carry_out(int argc, char** argv) {
  CLI::App app{
      "airlatch: listens to the voltage, current and pressure of an air-lock pump and says what "
      "happened,\nwhen, and how sure that is.",
      "airlatch"};
  app.set_version_flag("--version", "airlatch " AIRLATCH_VERSION);
  app.fallthrough(false);
  app.footer(
      "Use a fused lead and never let the clips touch; keep fingers clear of moving linkages; "
      "never "
      "probe\nairbag wiring. The maker's documents and local rules come first.\n\n"
      "airlatch help COMMAND explains a command.");
  struct Command {
    airlatch::Arguments arguments;
    airlatch::Run run;
  };
  std::vector<Command> commands;
  const auto add = [&](const char* name, const char* about, const auto& declare) {
    const airlatch::Arguments arguments(*app.add_subcommand(name, about));
    commands.push_back({arguments, declare(arguments)});
  };
  add("replay", "decode one stored capture", airlatch::add_replay);
  add("capture", "record live, decode while recording, lead through a plan", airlatch::add_capture);
  add("report", "judge a whole job and write the test report", airlatch::add_report);
  add("compare", "two captures or two reports: what really changed", airlatch::add_compare);
  add("rig", "look at a capture and propose a rig for it", airlatch::add_rig);
  add("instruments", "list what libsigrok finds connected", airlatch::add_instruments);
  add("pipe", "samples on stdin, events on stdout, for logging pipelines", airlatch::add_pipe);
  add("export", "a recording as a session file or as text", airlatch::add_export);
  add("ledger", "history: stored reports by vehicle, trends", airlatch::add_ledger);
  add("rehearse", "make an invented capture with its truth", airlatch::add_rehearse);
  add("help", "explain a command, as --help does",
      [&app](airlatch::Arguments arguments) { return airlatch::add_help(arguments, app); });
  std::string describe_as;  // for packages; not shown in the help
  app.add_option("--describe", describe_as)
      ->check(CLI::IsMember({"man", "bash", "zsh", "fish"}))
      ->group("");
  app.require_subcommand(0, 1);
  try {
    app.parse(argc, argv);
    if (!describe_as.empty()) {
      airlatch::Output("-").write(airlatch::describe(app, describe_as));
      return 0;
    }
    if (app.get_subcommands().empty()) throw CLI::RequiredError("A command");
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) {  // help or version were asked for
      app.exit(error);
      return std::fflush(stdout) == 0 ? 0 : leave(ExitStatus::kReadWriteFailed);
    }
    return complain(airlatch::misuse(app, error), ExitStatus::kUsage);
  }
  for (const Command& command : commands) {
    if (!command.arguments.given()) continue;
    command.arguments.file_uses().check();
    return leave(command.run());
  }
  return leave(ExitStatus::kUsage);
}

}  // namespace

int main(int argc, char** argv) {
  keep_memory();
  keep_standard_files_apart();
  google::protobuf::SetLogHandler(nullptr);  // what it cannot read, we refuse in our own words
  std::signal(SIGPIPE, SIG_IGN);             // a reader that has gone is an error like others
  try {
    return carry_out(argc, argv);
  } catch (const airlatch::ReaderGone&) {
    return leave(ExitStatus::kDone);  // it has read what it wanted
  } catch (const airlatch::InputError& error) {
    return complain(error.what(), error.status());
  } catch (const std::bad_alloc&) {
    std::fputs("airlatch: not enough memory; end other programs, or read less at once\n", stderr);
    return leave(ExitStatus::kUnusableData);
  } catch (const std::system_error& error) {  // no thread to be had, for example
    return complain(fmt::format("the system refuses ({}); end other programs, and try again",
                                error.code().message()),
                    ExitStatus::kReadWriteFailed);
  } catch (const std::exception& error) {
    return complain(std::string("internal error: ") + error.what(), ExitStatus::kReadWriteFailed);
  }
}
