// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/connection.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <grp.h>
#include <netdb.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <memory>

namespace airlatch {
namespace {

constexpr int kPatience_ms = static_cast<int>(1000 * kPatience_s);

struct Fd {
  int at;
  explicit Fd(int fd) : at(fd) {}
  ~Fd() {
    if (at >= 0) ::close(at);
  }
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
};

bool becomes(int fd, short event) {
  pollfd wait = {fd, event, 0};
  return ::poll(&wait, 1, kPatience_ms) == 1;
}

// The error of connecting to the first of the host's addresses that can be tried, or 0.
int connected(int fd, const addrinfo& address) {
  if (::connect(fd, address.ai_addr, address.ai_addrlen) == 0) return 0;
  if (errno != EINPROGRESS) return errno;
  if (!becomes(fd, POLLOUT)) return ETIMEDOUT;
  int error = 0;
  socklen_t size = sizeof error;
  ::getsockopt(fd, SOL_SOCKET, SO_ERROR, &error, &size);
  return error;
}

// What it answers when it is asked what it is, without the line's end; empty: nothing.
std::string identity(int fd) {
  constexpr std::string_view kQuestion = "*IDN?\n";
  constexpr std::size_t kLongest = 80;
  if (::send(fd, kQuestion.data(), kQuestion.size(), MSG_NOSIGNAL) < 0) return "";
  std::string answer;
  std::array<char, 256> chunk{};
  while (answer.find('\n') == std::string::npos && answer.size() < kLongest &&
         becomes(fd, POLLIN)) {
    const ssize_t n = ::recv(fd, chunk.data(), chunk.size(), 0);
    if (n <= 0) break;
    answer.append(chunk.data(), static_cast<std::size_t>(n));
  }
  answer.resize(std::min({answer.find_first_of("\r\n"), answer.size(), kLongest}));
  return answer;
}

Diagnosis of_answer(const std::string& answer, const std::string& where,
                    const std::string& driver) {
  if (answer.empty())
    return {where + " takes the connection, but does not say what it is (*IDN?)",
            "check that this is its port for SCPI commands"};
  // Maker, model, serial number, firmware: IEEE 488.2.
  if (std::count(answer.begin(), answer.end(), ',') < 3)
    return {fmt::format("{} answers '{}', which is no identification", where, answer),
            "check that this is its port for SCPI commands", false};
  return {
      fmt::format("{} answers as '{}', which the driver {} does not know", where, answer, driver),
      "choose another driver (airlatch instruments --drivers)", false};
}

Diagnosis of_network(const std::string& host, const std::string& port, const std::string& driver) {
  const std::string where = host + ":" + port;
  addrinfo hints = {}, *found = nullptr;
  hints.ai_socktype = SOCK_STREAM;
  if (const int error = ::getaddrinfo(host.c_str(), port.c_str(), &hints, &found))
    return {fmt::format("{} cannot be looked up ({})", where, ::gai_strerror(error)),
            "check the host's name and the port's number"};
  const std::unique_ptr<addrinfo, void (*)(addrinfo*)> kept(found, ::freeaddrinfo);
  const Fd socket(::socket(found->ai_family, found->ai_socktype | SOCK_NONBLOCK | SOCK_CLOEXEC, 0));
  switch (const int error = connected(socket.at, *found)) {
    case 0:
      return of_answer(identity(socket.at), where, driver);
    case ECONNREFUSED:
      return {"nothing listens at " + where,
              "check the port's number, and that the instrument's remote control is switched on"};
    default:
      return {fmt::format("{} cannot be reached ({})", where, std::strerror(error)),
              "check its network cable, and that it still has this address"};
  }
}

std::string owners(const struct stat& about) {
  const group* owner = ::getgrgid(about.st_gid);
  return owner ? owner->gr_name : std::to_string(about.st_gid);
}

Diagnosis of_device_file(const std::string& path, const std::string& driver) {
  struct stat about {};
  if (::stat(path.c_str(), &about) != 0)
    return {fmt::format("{}: {}", path, std::strerror(errno)),
            "plug it in; ls /dev/serial/by-id shows what is plugged in"};
  if (!S_ISCHR(about.st_mode))
    return {path + " is no serial port", "name its device file, as /dev/ttyUSB0", false};
  const Fd port(::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
  if (port.at < 0 && errno == EACCES)
    return {"you may not open " + path,
            fmt::format("join the group {} that owns it, and log in again", owners(about)), false};
  if (port.at < 0 && errno == EBUSY) return {"another program uses " + path, "end that program"};
  if (port.at < 0)
    return {fmt::format("{} cannot be opened: {}", path, std::strerror(errno)), "plug it in again"};
  if (::isatty(port.at) == 0)
    return {path + " is no serial port", "name its device file, as /dev/ttyUSB0", false};
  if (becomes(port.at, POLLIN))
    return {fmt::format("{} sends, but not what the driver {} reads", path, driver),
            "check the driver, and serialcomm= (as 9600/8n1)"};
  return {"nothing comes from " + path,
          "check the cable, that it is switched on, and that it is set to send"};
}

}  // namespace

Diagnosis diagnose(const InstrumentSpec& spec, const Diagnosis& otherwise) {
  std::string conn;
  for (const auto& [name, value] : spec.settings)
    if (name == "conn") conn = value;
  if (conn.starts_with("/")) return of_device_file(conn, spec.driver);
  const std::size_t host = conn.find('/') + 1, port = conn.find('/', host) + 1;
  if (!conn.starts_with("tcp") || host == 0 || port == 0) return otherwise;
  const std::size_t end = std::min(conn.find('/', port), conn.size());
  return of_network(conn.substr(host, port - 1 - host), conn.substr(port, end - port), spec.driver);
}

}  // namespace airlatch
