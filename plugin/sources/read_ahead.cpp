// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/read_ahead.hpp"

#include <algorithm>

namespace airlatch {

ReadAhead::ReadAhead(std::unique_ptr<Source> inner)
    : inner_(std::move(inner)),
      most_ready_(
          std::clamp(inner_->values_at_once() / kBatch_values, kLeastBatches, kMostBatches)),
      channels_(inner_->channels()),
      thread_([this] { read(); }) {}

ReadAhead::~ReadAhead() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void ReadAhead::fill(Batch& batch) {
  batch.values.clear();
  batch.values.reserve(kBatch_values + kRoom_values);
  batch.times_ns.clear();
  batch.pieces.clear();
  batch.handed_out = 0;
  try {
    SampleBlock block;
    while (batch.values.size() < kBatch_values) {
      if (!inner_->next(block)) {
        batch.last = true;
        break;
      }
      batch.pieces.push_back({block, batch.values.size(), block.values.size(),
                              batch.times_ns.size(), !block.times_ns.empty()});
      batch.values.insert(batch.values.end(), block.values.begin(), block.values.end());
      batch.times_ns.insert(batch.times_ns.end(), block.times_ns.begin(), block.times_ns.end());
    }
  } catch (...) {
    batch.error = std::current_exception();
    batch.last = true;
  }
  batch.progress = inner_->progress();
}

void ReadAhead::read() {
  try {
    read_batches();
  } catch (...) {  // no memory for a batch
    {
      const std::lock_guard lock(mutex_);
      stopped_by_ = std::current_exception();
    }
    changed_.notify_all();
  }
}

void ReadAhead::read_batches() {
  bool last = false;
  while (!last) {
    Batch batch;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stop_ || ready_.size() < most_ready_; });
      if (stop_) return;
      if (!empty_.empty()) {
        batch = std::move(empty_.back());
        empty_.pop_back();
      }
    }
    fill(batch);
    last = batch.last;
    {
      const std::lock_guard lock(mutex_);
      ready_.push_back(std::move(batch));
    }
    changed_.notify_all();
  }
}

bool ReadAhead::take_batch() {
  if (now_.last) return false;
  {
    std::unique_lock lock(mutex_);
    if (!now_.pieces.empty()) empty_.push_back(std::move(now_));
    changed_.wait(lock, [this] { return !ready_.empty() || stopped_by_; });
    if (ready_.empty()) std::rethrow_exception(stopped_by_);
    now_ = std::move(ready_.front());
    ready_.pop_front();
  }
  changed_.notify_all();
  progress_ = now_.progress;
  if (now_.last) {  // the thread touches it no more
    damage_ = inner_->damage();
    remarks_ = inner_->remarks();
  }
  return true;
}

bool ReadAhead::next(SampleBlock& block) {
  while (now_.handed_out == now_.pieces.size()) {
    if (now_.error) std::rethrow_exception(now_.error);
    if (!take_batch()) return false;
  }
  const Piece& piece = now_.pieces[now_.handed_out++];
  block = piece.block;
  block.values = std::span<const float>(now_.values).subspan(piece.from, piece.size);
  block.times_ns = {};
  if (piece.own_times)
    block.times_ns =
        std::span<const std::int64_t>(now_.times_ns).subspan(piece.times_from, piece.size);
  return true;
}

}  // namespace airlatch
