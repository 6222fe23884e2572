// SPDX-License-Identifier: GPL-3.0-or-later
// read_ahead.hpp: a source that is read in a thread of its own, a little ahead of the decoding.
//
// In    any source over a file.
// Out   the same blocks, errors and damage in the same order.
// How   one thread fills batches, of which a few wait, and more where the source gives many values
//       at once; what is handed out does not depend on how the threads run.
// Cost  kMostBatches * kBatch_values values at most, and a copy of each.
#pragma once
#include <condition_variable>
#include <deque>
#include <exception>
#include <memory>
#include <mutex>
#include <thread>

#include "plugin/sources/source.hpp"

namespace airlatch {

class ReadAhead final : public Source {
 public:
  static constexpr std::size_t kLeastBatches = 3, kMostBatches = 16, kBatch_values = 1 << 16;
  static constexpr std::size_t kRoom_values = 1 << 12;  // for the last block of a batch, mostly

  explicit ReadAhead(std::unique_ptr<Source> inner);
  ~ReadAhead() override;
  ReadAhead(const ReadAhead&) = delete;
  ReadAhead& operator=(const ReadAhead&) = delete;
  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }
  bool next(SampleBlock& block) override;
  [[nodiscard]] std::string damage() const override { return damage_; }  // known at the end
  [[nodiscard]] std::vector<std::string> remarks() const override { return remarks_; }
  // At the end only.
  [[nodiscard]] std::vector<std::string> understood() const override {
    return inner_->understood();
  }
  [[nodiscard]] std::string sha256() override { return inner_->sha256(); }
  [[nodiscard]] double progress() const override { return progress_; }

 private:
  struct Piece {
    SampleBlock block;  // its spans are set when it is handed out
    std::size_t from = 0, size = 0, times_from = 0;
    bool own_times = false;
  };
  struct Batch {
    std::vector<float> values;
    std::vector<std::int64_t> times_ns;
    std::vector<Piece> pieces;
    std::size_t handed_out = 0;
    double progress = -1;
    bool last = false;
    std::exception_ptr error;
  };
  void read();
  void read_batches();
  void fill(Batch& batch);
  bool take_batch();

  std::unique_ptr<Source> inner_;
  std::size_t most_ready_;
  std::vector<SourceChannel> channels_;
  Batch now_;
  double progress_ = -1;
  std::string damage_;
  std::vector<std::string> remarks_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Batch> ready_, empty_;
  bool stop_ = false;
  std::exception_ptr stopped_by_ = {};
  std::thread thread_;  // last: what it uses is made before it
};

}  // namespace airlatch
