// SPDX-License-Identifier: GPL-3.0-or-later
// Instruments that go, hang, come back and fall behind, on a clock that the test sets.
#include "plugin/live/supervisor.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cerrno>

#include "plugin/system/input_error.hpp"
#include "tests/plugin/live/fake_instrument.hpp"

namespace airlatch {
namespace {
using namespace test;

bool never() { return false; }

// A supervisor of fake meters, and what it reported.
class Watch {
 public:
  explicit Watch(const std::vector<std::string>& instruments)
      : supervisor(specs_of(instruments), fake_meter(*orders),
                   {[this](std::size_t channel, const v1::SampleBlock& block) {
                      blocks.emplace_back(channel, block);
                    },
                    [this](const std::string& text) { remarks.push_back(text); }},
                   [this] { return now_s; }) {}

  // Serves until it is so; false where that takes for ever.
  template <typename Condition>
  bool until(Condition&& condition) {
    for (int k = 0; k < 3000 && !condition(); ++k) supervisor.serve(10);
    return condition();
  }
  bool until_readings(std::size_t count) {
    return until([&] { return blocks.size() >= count; });
  }
  void serve_a_while() {
    for (int k = 0; k < 5; ++k) supervisor.serve(10);
  }
  [[nodiscard]] bool process_is_there() const {
    return ::kill(orders->pid, 0) == 0 || errno != ESRCH;
  }

  SharedOrders orders;
  double now_s = 1000;
  std::vector<std::pair<std::size_t, v1::SampleBlock>> blocks;
  std::vector<std::string> remarks;
  Supervisor supervisor;

 private:
  static std::vector<InstrumentSpec> specs_of(const std::vector<std::string>& texts) {
    std::vector<InstrumentSpec> specs;
    for (const std::string& text : texts) specs.push_back(parse_instrument(text));
    return specs;
  }
};

TEST(Supervisor, ChannelsAreCountedOverAllInstruments) {
  Watch watch({"fake:as=feed_a_v,motor_a", "fake:as=line_kpa"});
  watch.supervisor.start(never);
  ASSERT_EQ(watch.supervisor.channels().size(), 3U);
  EXPECT_EQ(watch.supervisor.channels()[2].name(), "line_kpa");
  watch.orders->readings = 1;
  ASSERT_TRUE(watch.until_readings(2));
  std::vector<std::size_t> numbers = {watch.blocks[0].first, watch.blocks[1].first};
  std::sort(numbers.begin(), numbers.end());
  EXPECT_EQ(numbers, (std::vector<std::size_t>{0, 2}));
  EXPECT_TRUE(watch.remarks.empty());
}

TEST(Supervisor, WhatCameBeforeAllHadAnsweredIsHandedOnAtTheBeginning) {
  const SharedOrders other;
  std::vector<float> values;
  // The first sends at once, the second answers only when that has been written.
  Supervisor supervisor(
      {parse_instrument("first:as=a"), parse_instrument("second:as=b")},
      [&](const InstrumentSpec& spec, int fd) {
        SendQueue queue(fd);
        while (spec.driver == "second" && other->readings == 0) ::usleep(1000);
        v1::InstrumentMessage message = hello_of(spec.names, 0);
        send(queue, message);
        message.clear_channels();
        message.mutable_block()->set_channel(spec.names.front());
        message.mutable_block()->add_times_ns(host_now_ns());
        message.mutable_block()->add_values(7);
        if (spec.driver == "first") send(queue, message);
        other->readings = 1;
        while (true) ::pause();
      },
      {[&](std::size_t, const v1::SampleBlock& block) { values.push_back(block.values(0)); },
       [](const std::string&) {}});
  supervisor.start(never);
  EXPECT_TRUE(values.empty());
  supervisor.begin();
  for (int k = 0; k < 100 && values.empty(); ++k) supervisor.serve(10);
  EXPECT_EQ(values, std::vector<float>{7});
}

// Status and words of a start that is refused.
std::pair<ExitStatus, std::string> refused(Supervisor& supervisor,
                                           const std::function<bool()>& stopped = never) {
  try {
    supervisor.start(stopped);
  } catch (const InputError& error) {
    return {error.status(), error.what()};
  }
  return {ExitStatus::kDone, ""};
}

TEST(Supervisor, AStartThatCannotBeIsRefused) {
  Watch same({"fake:as=motor_a", "fake:as=motor_a"});
  const auto twice = refused(same.supervisor);
  EXPECT_EQ(twice.first, ExitStatus::kUsage);
  EXPECT_NE(twice.second.find("two channels are called 'motor_a'"), std::string::npos);

  const SupervisorListener nobody = {[](std::size_t, const v1::SampleBlock&) {},
                                     [](const std::string&) {}};
  Supervisor dead(
      {parse_instrument("fake")}, [](const InstrumentSpec&, int) {}, nobody);
  EXPECT_EQ(refused(dead).first, ExitStatus::kNoInstrument);
  const auto hangs = [](const InstrumentSpec&, int) {
    while (true) ::pause();
  };
  double now_s = 0;
  Supervisor silent({parse_instrument("fake")}, hangs, nobody, [&] { return now_s += 1; });
  EXPECT_NE(refused(silent).second.find("does not answer"), std::string::npos);
  EXPECT_NEAR(now_s, Supervisor::kHello_s, 5);
  Supervisor stopped({parse_instrument("fake")}, hangs, nobody);
  EXPECT_EQ(refused(stopped, [] { return true; }).first, ExitStatus::kNoInstrument);

  Supervisor complains(
      {parse_instrument("fake")},
      [](const InstrumentSpec&, int fd) {
        SendQueue queue(fd);
        v1::InstrumentMessage message;
        message.set_complaint("its cable is out");
        send(queue, message);
      },
      nobody);
  const auto complaint = refused(complains);
  EXPECT_EQ(complaint.first, ExitStatus::kNoInstrument);
  EXPECT_NE(complaint.second.find("its cable is out"), std::string::npos);
}

// An instrument that answers at its third start only.
InstrumentChild late_meter(FakeOrders& orders, bool may_come) {
  return [&orders, may_come](const InstrumentSpec& spec, int fd) {
    SendQueue queue(fd);
    v1::InstrumentMessage message = hello_of(spec.names, 0);
    if (spec.driver == "late" && ++orders.starts < 3) {
      message.Clear();
      message.set_complaint("nothing listens");
      message.set_may_come(may_come);
    }
    send(queue, message);
    message.Clear();
    message.mutable_block()->set_channel(spec.names.front());
    for (int n = 0; true; ++n, ::usleep(10'000)) {
      message.mutable_block()->add_times_ns(host_now_ns());
      message.mutable_block()->add_values(static_cast<float>(n));
      send(queue, message);
      message.mutable_block()->clear_times_ns();
      message.mutable_block()->clear_values();
    }
  };
}

TEST(Supervisor, OneThatIsNotUpYetIsWaitedForAndWhatOthersMeasuredMeanwhileIsLetGo) {
  const SharedOrders orders;
  std::vector<std::string> remarks;
  std::map<std::size_t, float> first;
  Supervisor supervisor({parse_instrument("up:as=a"), parse_instrument("late:as=b")},
                        late_meter(*orders, true),
                        {[&](std::size_t channel, const v1::SampleBlock& block) {
                           first.emplace(channel, block.values(0));
                         },
                         [&](const std::string& text) { remarks.push_back(text); }});
  supervisor.start(never, 30);
  EXPECT_EQ(orders->starts, 3);
  ASSERT_EQ(remarks.size(), 1U);  // said once
  EXPECT_EQ(remarks[0], "waiting 30 s at most: nothing listens");
  supervisor.begin();
  for (int k = 0; k < 300 && first.size() < 2; ++k) supervisor.serve(10);
  EXPECT_GT(first[0], 50.0F);  // two attempts are a second
  EXPECT_EQ(first[1], 0.0F);
}

TEST(Supervisor, WaitingEndsAndIsNotForWhatCannotCome) {
  const SupervisorListener nobody = {[](std::size_t, const v1::SampleBlock&) {},
                                     [](const std::string&) {}};
  const SharedOrders wrong;
  Supervisor never_comes({parse_instrument("late:as=b")}, late_meter(*wrong, false), nobody);
  EXPECT_THROW(never_comes.start(never, 30), InputError);
  EXPECT_EQ(wrong->starts, 1);
  const SharedOrders slow;
  Supervisor too_late({parse_instrument("late:as=b")}, late_meter(*slow, true), nobody);
  EXPECT_THROW(too_late.start(never, 0.1), InputError);
  EXPECT_EQ(slow->starts, 2);
}

TEST(Supervisor, AnInstrumentThatHasGoneIsStartedAgain) {
  Watch watch({"fake:as=motor_a"});
  watch.supervisor.start(never);
  watch.orders->readings = 1;
  ASSERT_TRUE(watch.until_readings(1));
  watch.orders->gone = 1;
  ASSERT_TRUE(watch.until([&] { return watch.remarks.size() == 1; }));
  EXPECT_EQ(watch.remarks[0], "LOST: fake:as=motor_a");
  EXPECT_EQ(watch.supervisor.lost(), std::vector<std::string>{"fake:as=motor_a"});
  watch.now_s += 0.95 * Supervisor::kAgain_s;
  watch.serve_a_while();
  EXPECT_EQ(watch.orders->starts, 1);
  watch.now_s += 0.1 * Supervisor::kAgain_s;
  ASSERT_TRUE(watch.until([&] { return watch.orders->starts == 2; }));
  EXPECT_EQ(watch.remarks.size(), 1U);  // it has not sent anything yet
  ASSERT_TRUE(watch.until([&] {
    ++watch.orders->readings;
    return watch.remarks.size() == 2;
  }));
  EXPECT_EQ(watch.remarks[1], "back again: fake:as=motor_a");
  EXPECT_TRUE(watch.supervisor.lost().empty());
}

TEST(Supervisor, OneThatStaysAwayIsTriedAgainAndAgain) {
  Watch watch({"fake:as=motor_a"});
  watch.supervisor.start(never);
  watch.orders->gone = 4;
  for (int starts = 2; starts <= 5; ++starts) {
    watch.serve_a_while();
    ASSERT_TRUE(watch.until([&] {
      watch.now_s += 0.1;
      return watch.orders->starts == starts;
    }));
  }
  EXPECT_EQ(watch.remarks, std::vector<std::string>{"LOST: fake:as=motor_a"});  // said once
}

TEST(Supervisor, ASilentInstrumentIsKilled) {
  Watch watch({"fake:as=motor_a"});
  watch.orders->hangs = true;
  watch.supervisor.start(never);
  watch.now_s += 0.95 * Supervisor::kSilent_s;
  watch.serve_a_while();
  EXPECT_TRUE(watch.remarks.empty());
  ASSERT_TRUE(watch.process_is_there());
  watch.now_s += 0.1 * Supervisor::kSilent_s;
  watch.supervisor.serve(0);
  EXPECT_EQ(watch.remarks.size(), 1U);
  EXPECT_FALSE(watch.process_is_there());
}

TEST(Supervisor, ASlowMeterIsWaitedForThreeOfItsReadings) {
  Watch watch({"fake:as=line_kpa"});
  watch.supervisor.start(never);
  watch.now_s += 1.5;  // between two readings
  watch.orders->readings = 1;
  ASSERT_TRUE(watch.until_readings(1));
  watch.now_s += 4.4;
  watch.serve_a_while();
  EXPECT_TRUE(watch.remarks.empty());
  watch.now_s += 0.2;
  watch.supervisor.serve(0);
  EXPECT_EQ(watch.remarks.size(), 1U);
}

TEST(Supervisor, AQueueThatFillsAndValuesThatAreLostAreReported) {
  Watch watch({"fake:as=motor_a"});
  watch.supervisor.start(never);
  watch.orders->queue_share = 0.5;
  watch.orders->readings = 1;
  ASSERT_TRUE(watch.until_readings(1));
  watch.orders->lost_values = 7;
  watch.orders->readings = 2;
  ASSERT_TRUE(watch.until_readings(2));
  ASSERT_EQ(watch.remarks.size(), 2U);  // the queue's share did not cross the limit again
  EXPECT_NE(watch.remarks[0].find("its queue is 50 % full"), std::string::npos);
  EXPECT_NE(watch.remarks[1].find("7 values of fake:as=motor_a lost"), std::string::npos);
  for (int more = 3; more <= 6; ++more) {  // told now and then, not for each block
    watch.orders->lost_values = 7 + more;
    watch.orders->readings = more;
    ASSERT_TRUE(watch.until_readings(static_cast<std::size_t>(more)));
  }
  EXPECT_EQ(watch.remarks.size(), 2U);
  watch.supervisor.end();
  ASSERT_EQ(watch.remarks.size(), 3U);
  EXPECT_NE(watch.remarks[2].find("6 values of fake:as=motor_a lost"), std::string::npos);
  EXPECT_EQ(watch.supervisor.lost_values(), 13);
  EXPECT_DOUBLE_EQ(watch.supervisor.fullest_queue(), 0.5);
}

TEST(Supervisor, LastMessagesAreReceivedAtTheEnd) {
  Watch watch({"fake:as=motor_a"});
  watch.supervisor.start(never);
  watch.orders->readings = 3;
  watch.supervisor.end();
  EXPECT_EQ(watch.blocks.size(), 3U);
  EXPECT_FALSE(watch.process_is_there());
  EXPECT_EQ(watch.supervisor.clock_remarks(),
            std::vector<std::string>{
                "the clock of fake:as=motor_a ran 12.3 ± 0.8 ppm fast (95 %); taken out"});
}

TEST(Supervisor, OneThatDoesNotEndIsKilledAtTheEnd) {
  const SharedOrders orders;
  orders->hangs = true;
  Supervisor supervisor({parse_instrument("fake:as=motor_a")}, fake_meter(*orders),
                        {[](std::size_t, const v1::SampleBlock&) {}, [](const std::string&) {}});
  supervisor.start(never);
  const double begun_s = host_now_s();
  supervisor.end();
  EXPECT_GE(host_now_s() - begun_s, Supervisor::kEnding_s);
  EXPECT_TRUE(::kill(orders->pid, 0) != 0 && errno == ESRCH);
}

}  // namespace
}  // namespace airlatch
