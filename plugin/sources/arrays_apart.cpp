// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/arrays_apart.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <new>
#include <utility>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::uint64_t kMostMemory = std::uint64_t{4} << 30;
constexpr int kPatience_ms = 60'000;
constexpr std::uint32_t kMostText = 1 << 20, kMostArrays = 100'000;

struct Gone : std::runtime_error {
  using std::runtime_error::runtime_error;
};

// Numbers and texts over a socket; both ends are this program.
class Line {
 public:
  explicit Line(int fd) : fd_(fd) {}
  ~Line() { ::close(fd_); }
  Line(const Line&) = delete;
  Line& operator=(const Line&) = delete;

  void put(const void* from, std::size_t bytes) {
    const auto* at = static_cast<const char*>(from);
    while (bytes > 0) {
      const ssize_t n = ::send(fd_, at, bytes, MSG_NOSIGNAL);
      if (n < 0 && errno == EINTR) continue;
      if (n <= 0) throw Gone("gone");
      at += n;
      bytes -= static_cast<std::size_t>(n);
    }
  }
  // Negative patience: for ever.
  void get(void* to, std::size_t bytes, int patience_ms) {
    auto* at = static_cast<char*>(to);
    while (bytes > 0) {
      pollfd waits{.fd = fd_, .events = POLLIN, .revents = 0};
      const int ready = ::poll(&waits, 1, patience_ms);
      if (ready < 0 && errno == EINTR) continue;
      if (ready == 0) throw Gone("no answer for a minute");
      const ssize_t n = ::recv(fd_, at, bytes, 0);
      if (n < 0 && errno == EINTR) continue;
      if (n <= 0) throw Gone("gone");
      at += n;
      bytes -= static_cast<std::size_t>(n);
    }
  }
  template <typename Number>
  void put(Number value) {
    put(&value, sizeof value);
  }
  void put(const std::string& text) {
    const auto size = static_cast<std::uint32_t>(std::min<std::size_t>(text.size(), kMostText));
    put(size);
    put(text.data(), size);
  }
  template <typename Number>
  Number number() {
    Number value;
    get(&value, sizeof value, kPatience_ms);
    return value;
  }
  std::string text() {
    const auto size = number<std::uint32_t>();
    if (size > kMostText) throw Gone("gone");
    std::string out(size, '\0');
    get(out.data(), size, kPatience_ms);
    return out;
  }

 private:
  int fd_;
};

void put(Line& line, const ArrayTable& table) {
  line.put(static_cast<std::uint32_t>(table.arrays.size()));
  for (const NamedArray& array : table.arrays) {
    line.put(array.name);
    line.put(array.unit);
    line.put(array.length);
    line.put(array.time_unit_s);
    line.put(static_cast<std::uint8_t>((array.whole ? 1 : 0) | (array.logic ? 2 : 0)));
  }
  line.put(static_cast<std::uint32_t>(table.numbers.size()));
  for (const auto& [name, value] : table.numbers) {
    line.put(name);
    line.put(value);
  }
  line.put(static_cast<std::uint32_t>(table.left_out.size()));
  for (const std::string& what : table.left_out) line.put(what);
}

std::uint32_t count(Line& line) {
  const auto n = line.number<std::uint32_t>();
  if (n > kMostArrays) throw Gone("gone");
  return n;
}

ArrayTable table_from(Line& line) {
  ArrayTable table;
  for (std::uint32_t k = count(line); k > 0; --k) {
    NamedArray& array = table.arrays.emplace_back();
    array.name = line.text();
    array.unit = line.text();
    array.length = line.number<std::uint64_t>();
    array.time_unit_s = line.number<double>();
    const auto flags = line.number<std::uint8_t>();
    array.whole = (flags & 1) != 0;
    array.logic = (flags & 2) != 0;
  }
  for (std::uint32_t k = count(line); k > 0; --k) {
    std::string name = line.text();
    table.numbers.emplace_back(std::move(name), line.number<double>());
  }
  for (std::uint32_t k = count(line); k > 0; --k) table.left_out.push_back(line.text());
  return table;
}

enum class Answer : std::uint8_t { kDone, kCannot };

struct Request {
  std::uint64_t array = 0, from = 0, n = 0;
};

void limit_child() {
  // What libraries print when they fail is not for the user.
  if (const int nowhere = ::open("/dev/null", O_WRONLY); nowhere >= 0)
    ::dup2(nowhere, STDERR_FILENO);
  const rlimit no_core{0, 0};
  ::setrlimit(RLIMIT_CORE, &no_core);
  std::uint64_t pages = 0;
  if (std::FILE* file = std::fopen("/proc/self/statm", "r")) {
    unsigned long n = 0;
    if (std::fscanf(file, "%lu", &n) == 1) pages = n;
    std::fclose(file);
  }
  const rlim_t most = pages * static_cast<std::uint64_t>(::sysconf(_SC_PAGESIZE)) + kMostMemory;
  const rlimit memory{most, most};
  ::setrlimit(RLIMIT_AS, &memory);
  for (const int signal : {SIGINT, SIGTERM, SIGSEGV, SIGABRT, SIGBUS, SIGFPE, SIGILL})
    std::signal(signal, SIG_DFL);
}

// Work whose failures become answers.
template <typename Work>
void answer(Line& line, Work&& work) {
  try {
    work();
  } catch (const std::bad_alloc&) {
    line.put(Answer::kCannot);
    line.put(std::string("it needs more memory than can be had"));
  } catch (const ArrayError& error) {
    line.put(Answer::kCannot);
    line.put(std::string(error.what()));
  }
}

void serve(Line& line, const std::string& path, OpensArrays open) {
  std::unique_ptr<ArrayFile> file;
  answer(line, [&] {
    file = open(path);
    line.put(Answer::kDone);
    put(line, file->table());
  });
  std::vector<double> numbers;
  while (file) {
    Request request;
    line.get(&request, sizeof request, -1);
    answer(line, [&] {
      numbers.resize(static_cast<std::size_t>(request.n));
      file->read(static_cast<std::size_t>(request.array), request.from, numbers);
      line.put(Answer::kDone);
      line.put(numbers.data(), numbers.size() * sizeof(double));
    });
  }
}

class ApartFile final : public ArrayFile {
 public:
  ApartFile(const std::string& path, OpensArrays open) : path_(path) {
    int ends[2];
    if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0)
      throw InputError(ExitStatus::kReadWriteFailed, path, "", std::strerror(errno),
                       "end other programs, and try again");
    child_ = ::fork();
    if (child_ == 0) {
      ::close(ends[0]);
      limit_child();
      try {
        Line line(ends[1]);
        serve(line, path, open);
      } catch (...) {  // the other end is gone: there is nobody to tell
      }
      ::_exit(0);
    }
    ::close(ends[1]);
    line_ = std::make_unique<Line>(ends[0]);
    if (child_ < 0)
      throw InputError(ExitStatus::kReadWriteFailed, path, "", std::strerror(errno),
                       "end other programs, and try again");
    try {
      ask([&] {
        take_answer();
        table_ = table_from(*line_);
      });
    } catch (...) {
      end();
      throw;
    }
  }
  ~ApartFile() override { end(); }
  ApartFile(const ApartFile&) = delete;
  ApartFile& operator=(const ApartFile&) = delete;

  [[nodiscard]] const ArrayTable& table() const override { return table_; }
  void read(std::size_t array, std::uint64_t from, std::span<double> to) override {
    const Request request{array, from, to.size()};
    ask([&] {
      line_->put(&request, sizeof request);
      take_answer();
      line_->get(to.data(), to.size() * sizeof(double), kPatience_ms);
    });
  }

 private:
  template <typename Work>
  void ask(Work&& work) {
    if (!line_) throw ArrayError(kDamaged);
    try {
      work();
    } catch (const Gone&) {
      end();
      throw ArrayError(kDamaged);
    }
  }
  void take_answer() {
    const auto answer = line_->number<Answer>();
    if (answer == Answer::kDone) return;
    throw ArrayError(line_->text());
  }
  void end() {
    line_.reset();
    if (child_ <= 0) return;
    ::kill(child_, SIGKILL);
    int status = 0;
    while (::waitpid(child_, &status, 0) < 0 && errno == EINTR) {
    }
    child_ = -1;
  }

  static constexpr const char* kDamaged = "it is damaged: the library that reads it fails on it";
  std::string path_;
  pid_t child_ = -1;
  std::unique_ptr<Line> line_;
  ArrayTable table_;
};

}  // namespace

std::unique_ptr<ArrayFile> open_apart(const std::string& path, OpensArrays open) {
  return std::make_unique<ApartFile>(path, open);
}

}  // namespace airlatch
