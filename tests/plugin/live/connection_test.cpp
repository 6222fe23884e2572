// SPDX-License-Identifier: GPL-3.0-or-later
// Connections at which nothing useful is: each is told from the others.
#include "plugin/live/connection.hpp"

#include <arpa/inet.h>
#include <gtest/gtest.h>
#include <pty.h>
#include <sys/socket.h>
#include <unistd.h>

#include <thread>

#include "tests/support/files.hpp"

namespace airlatch {
namespace {

Diagnosis at(const std::string& conn) {
  return diagnose(parse_instrument("some-driver" + (conn.empty() ? "" : ":conn=" + conn)),
                  {"nothing answers", "check the cable"});
}

// A listener on a free port of this computer; it answers one question, if `answer` is not empty.
class Listener {
 public:
  explicit Listener(const std::string& answer) : fd_(::socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in address = {};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = ::htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    EXPECT_EQ(::bind(fd_, reinterpret_cast<sockaddr*>(&address), size), 0);
    ::getsockname(fd_, reinterpret_cast<sockaddr*>(&address), &size);
    port_ = ::ntohs(address.sin_port);
    ::listen(fd_, 1);
    if (!answer.empty()) thread_ = std::thread([this, answer] { serve(answer); });
  }
  ~Listener() {
    if (thread_.joinable()) thread_.join();
    ::close(fd_);
  }
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;
  [[nodiscard]] std::string conn() const { return "tcp-raw/127.0.0.1/" + std::to_string(port_); }

 private:
  void serve(const std::string& answer) const {
    const int client = ::accept(fd_, nullptr, nullptr);
    char question[64];
    EXPECT_GT(::read(client, question, sizeof question), 0);
    EXPECT_EQ(::write(client, answer.data(), answer.size()), std::ssize(answer));
    ::close(client);
  }
  int fd_, port_ = 0;
  std::thread thread_;
};

TEST(Connection, OneThatAnswersButIsNotKnownIsNamed) {
  const Diagnosis why = at(Listener("SALTMARSH,M1,0,1.0\n").conn());
  EXPECT_NE(why.what.find("answers as 'SALTMARSH,M1,0,1.0'"), std::string::npos) << why.what;
  EXPECT_NE(why.what.find("some-driver does not know"), std::string::npos) << why.what;
  EXPECT_FALSE(why.may_come);
}

TEST(Connection, WhatIsNoIdentificationIsShown) {
  const Diagnosis why = at(Listener("login: \n").conn());
  EXPECT_NE(why.what.find("answers 'login: ', which is no identification"), std::string::npos)
      << why.what;
  EXPECT_FALSE(why.may_come);
}

TEST(Connection, OneThatSaysNothingTakesTheConnection) {
  const Diagnosis why = at(Listener("").conn());
  EXPECT_NE(why.what.find("does not say what it is"), std::string::npos) << why.what;
}

TEST(Connection, WhereNothingListensOrNobodyIs) {
  std::string conn;
  { conn = Listener("").conn(); }  // free again
  const Diagnosis refused = at(conn);
  EXPECT_NE(refused.what.find("nothing listens"), std::string::npos) << refused.what;
  EXPECT_TRUE(refused.may_come);
  const Diagnosis unknown = at("tcp-raw/nobody.invalid/5025");
  EXPECT_NE(unknown.what.find("cannot be looked up"), std::string::npos) << unknown.what;
}

TEST(Connection, ADeviceFileThatIsMissingOrIsNoPort) {
  const test::Folder folder;
  const Diagnosis missing = at(folder.at("ttyUSB0"));
  EXPECT_NE(missing.what.find("No such file"), std::string::npos) << missing.what;
  EXPECT_TRUE(missing.may_come);
  folder.write("file", "text");
  for (const std::string& path : {folder.at("file"), std::string("/dev/null")}) {
    const Diagnosis why = at(path);
    EXPECT_NE(why.what.find("is no serial port"), std::string::npos) << why.what;
    EXPECT_FALSE(why.may_come);
  }
}

TEST(Connection, ASilentPortIsToldFromOneThatSendsSomethingElse) {
  int host = -1, port = -1;
  char path[64];
  ASSERT_EQ(::openpty(&host, &port, path, nullptr, nullptr), 0);
  EXPECT_NE(at(path).what.find("nothing comes from"), std::string::npos) << at(path).what;
  ASSERT_EQ(::write(host, "hello\n", 6), 6);
  EXPECT_NE(at(path).what.find("sends, but not what the driver some-driver reads"),
            std::string::npos);
  ::close(port);
  ::close(host);
}

TEST(Connection, APortThatMayNotBeOpenedIsNotADeadCable) {
  if (::geteuid() == 0 && ::seteuid(65534) != 0) GTEST_SKIP() << "cannot become a plain user";
  const Diagnosis why = at("/dev/console");
  ASSERT_EQ(::seteuid(::getuid()), 0);
  if (why.what.find("No such file") != std::string::npos) GTEST_SKIP() << "no /dev/console";
  EXPECT_NE(why.what.find("you may not open /dev/console"), std::string::npos) << why.what;
  EXPECT_NE(why.mend.find("group"), std::string::npos);
  EXPECT_FALSE(why.may_come);
}

TEST(Connection, OfOthersNothingMoreIsKnown) {
  EXPECT_EQ(at("").what, "nothing answers");
  EXPECT_EQ(at("1a86.7523").what, "nothing answers");
}

}  // namespace
}  // namespace airlatch
