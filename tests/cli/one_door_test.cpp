// SPDX-License-Identifier: GPL-3.0-or-later
// Text from outside reaches people through shown_text alone: no other code than what passes it
// through may write to stdout or stderr, or draw text.
#include <gtest/gtest.h>

#include <filesystem>
#include <regex>
#include <set>

#include "tests/support/files.hpp"

namespace airlatch {
namespace {

// Files of the program and plugin in which `sink` stands outside of comments.
std::set<std::string> users_of(const std::regex& sink) {
  std::set<std::string> users;
  const std::filesystem::path source = AIRLATCH_SOURCE_DIR "/plugin";
  for (const auto& entry : std::filesystem::recursive_directory_iterator(source)) {
    const std::string name = std::filesystem::relative(entry.path(), source).string();
    if (name.starts_with("examples/") || !std::regex_search(name, std::regex("\\.[ch](pp)?$")))
      continue;
    std::istringstream lines(test::read_file(entry.path().string()));
    for (std::string line; std::getline(lines, line);)
      if (std::regex_search(line.substr(0, line.find("//")), sink)) users.insert(name);
  }
  return users;
}

TEST(OneDoor, OnlyFewFilesWriteToPeople) {
  const std::set<std::string> doors = {
      "host/main.cpp",    // flushes what the library of the command line printed
      "host/replay.cpp",  // the share done: figures alone
      "host/tell.cpp",
      "live/sigrok_device.cpp",  // keeps what instruments' libraries print from people
      "system/whole_file.cpp",   // knows /dev/stdout by name
  };
  EXPECT_EQ(users_of(std::regex(R"(\bstd(out|err)\b|\bcerr\b|\bcout\b|\bperror\(|\bprintf\()")),
            doors);
  const std::set<std::string> by_number = {
      "host/capture.cpp",
      "host/replay.cpp",
      "host/terminal.cpp",  // ask whether it is a terminal
      "host/main.cpp",      // keeps their numbers from other files
      "host/output.cpp",    // exact bytes for programs
      "live/sigrok_device.cpp",
      "sources/arrays_apart.cpp",  // a child whose libraries shall not print
      "system/file_uses.cpp",      // asks which file it is
      "system/whole_file.cpp",     // exact bytes for programs
  };
  EXPECT_EQ(users_of(std::regex(R"(\bSTD(OUT|ERR)_FILENO\b)")), by_number);
}

TEST(OneDoor, OnlyTheTextBlockDrawsText) {
  EXPECT_EQ(users_of(std::regex(R"(lazy::(cairo_(show_text|text_path)|pango_layout_set_text)\b)")),
            std::set<std::string>{"report/text_block.cpp"});
}

}  // namespace
}  // namespace airlatch
