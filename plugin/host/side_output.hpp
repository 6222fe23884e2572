// SPDX-License-Identifier: GPL-3.0-or-later
// side_output.hpp: an output beside a live recording, which nothing that happens to it holds up.
//
// How   text is written as far as the output takes it now; the rest is kept, kMost_bytes of it. A
//       reader that has gone or stands still for longer, a full disk: from then on nothing more is
//       written, and `failure` says why. Nothing is thrown.
#pragma once
#include <functional>
#include <string>

namespace airlatch {

class SideOutput {
 public:
  static constexpr std::size_t kMost_bytes = 4U << 20;

  // `fd`: stays the caller's. `name`: for people.
  SideOutput(int fd, std::string name) : fd_(fd), name_(std::move(name)) {}

  void write(const std::string& text);
  void pump();  // what could not be written before; to be called now and then
  // Waits until all is written, it has failed, or `stopped`.
  void finish(const std::function<bool()>& stopped);
  [[nodiscard]] bool idle() const { return waiting_.empty(); }
  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] const std::string& failure() const { return failure_; }  // empty: none
  [[nodiscard]] bool reader_gone() const { return reader_gone_; }

 private:
  [[nodiscard]] bool takes(int wait_ms) const;
  void fail(const std::string& why);

  int fd_;
  std::string name_, waiting_, failure_;
  bool reader_gone_ = false;
};

}  // namespace airlatch
