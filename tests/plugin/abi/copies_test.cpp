// SPDX-License-Identifier: GPL-3.0-or-later
// Copies of the library under other names in one process, a decoder of each used in turn: none
// notices the others.
#include <dlfcn.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "tests/plugin/abi/session.hpp"
#include "tests/support/files.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

class Library {
 public:
  explicit Library(const std::string& path) : handle_(::dlopen(path.c_str(), RTLD_NOW)) {
    if (!handle_) throw std::runtime_error(::dlerror());
  }
  ~Library() { EXPECT_EQ(::dlclose(handle_), 0); }
  Library(const Library&) = delete;
  Library& operator=(const Library&) = delete;

  [[nodiscard]] Functions functions() const {
    Functions out;
    find("airlatch_create", out.create);
    find("airlatch_push", out.push);
    find("airlatch_poll", out.poll);
    find("airlatch_finish", out.finish);
    find("airlatch_destroy", out.destroy);
    find("airlatch_last_error", out.last_error);
    return out;
  }

 private:
  template <typename Function>
  void find(const char* name, Function& function) const {
    function = reinterpret_cast<Function>(::dlsym(handle_, name));
  }
  void* handle_;
};

std::vector<std::string> expected(const Rehearsal& r) {
  std::vector<std::string> out;
  for (const Event& event : decode_rehearsal(r)) out.push_back(to_wire(event));
  return out;
}

TEST(Copies, InOneProcessUsedInTurn) {
  const Rehearsal leak = rehearse({.fault = "line-leak", .rate_hz = 1000, .seed = 81, .hold_s = 6});
  const Rehearsal sound = rehearse({.fault = "sound", .rate_hz = 1000, .seed = 82, .hold_s = 6});
  const Folder folder;
  for (const char* name : {"left.so", "right.so"})
    std::filesystem::copy_file(AIRLATCH_BINARY_DIR "/plugin/libairlatch.so", folder.at(name));
  const Library left(folder.at("left.so")), right(folder.at("right.so"));
  Session a(leak, left.functions()), b(sound, right.functions()), linked(leak);
  ASSERT_NE(a.call.push, b.call.push);
  ASSERT_NE(a.call.push, linked.call.push);
  for (Session* session : {&a, &b, &linked}) session->create();
  const std::size_t of_leak = leak.channels[0].values.size(),
                    of_sound = sound.channels[0].values.size();
  constexpr std::size_t kCut = 997;
  for (std::size_t at = 0; at < std::max(of_leak, of_sound); at += kCut) {
    if (at < of_leak) a.push(at, kCut);
    if (at < of_sound) b.push(at, kCut);
    if (at < of_leak) linked.push(at, kCut);
  }
  for (Session* session : {&a, &b, &linked}) session->finish();
  EXPECT_EQ(a.events, expected(leak));
  EXPECT_EQ(b.events, expected(sound));
  EXPECT_EQ(linked.events, expected(leak));
}

// What one copy refuses is no other's reason.
TEST(Copies, EachHasItsOwnReasons) {
  const Folder folder;
  for (const char* name : {"left.so", "right.so"})
    std::filesystem::copy_file(AIRLATCH_BINARY_DIR "/plugin/libairlatch.so", folder.at(name));
  const Library left(folder.at("left.so")), right(folder.at("right.so"));
  EXPECT_EQ(left.functions().push(nullptr, nullptr), AIRLATCH_MISUSE);
  EXPECT_STRNE(left.functions().last_error(nullptr), "");
  EXPECT_STREQ(right.functions().last_error(nullptr), "");
}

}  // namespace
}  // namespace airlatch
