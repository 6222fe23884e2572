// SPDX-License-Identifier: GPL-3.0-or-later
// mcap_writer.hpp: a recording that is being made: an append-only MCAP file.
//
// Out   header, schemas, channels and the setup at once; then chunks of raw sample blocks (as they
//       came, before they are decoded) and events, each with its CRC; at the end the index.
// How   a chunk is closed and written when it is kChunk_bytes long or kFlush_s old, whichever comes
//       first: a kill costs at most that much. Every kSync_s what was written is handed to the disk
//       (DiskSync): a pulled plug costs at most that much more.
//       The index is made at the end by walking the chunks of the file itself, so that a recording
//       of a day needs no more memory than one of a minute.
// A write that fails (disk full, file system gone, file deleted) takes the file back to its last
// whole chunk, throws InputError (kReadWriteFailed), and nothing more is written.
#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/stream/sample_block.hpp"
#include "plugin/recorder/disk_sync.hpp"

namespace airlatch {

struct RecordedChannel {
  std::string name, unit;
  bool logic = false;
  double rate_hz = 0;  // 0: each value has its own time
};

class McapWriter {
 public:
  static constexpr std::size_t kChunk_bytes = 1 << 20;
  static constexpr double kFlush_s = 0.2, kSync_s = 0.5;
  // What a name that is taken means. In no case is a file written over.
  enum class Taken { kRefused, kNumbered };  // NAME.mcap is taken: NAME-2.mcap, NAME-3.mcap ...

  // `setup`: name and text of what belongs to the capture ("rig", "plan"). Throws InputError.
  McapWriter(const std::string& path, const std::vector<RecordedChannel>& channels,
             const std::vector<std::pair<std::string, std::string>>& setup,
             Taken taken = Taken::kRefused);
  ~McapWriter();
  McapWriter(const McapWriter&) = delete;
  McapWriter& operator=(const McapWriter&) = delete;

  void block(const SampleBlock& raw);
  [[nodiscard]] const std::string& path() const { return path_; }
  // `time_ns`: on the samples' clock.
  void event(const Event& event, std::int64_t time_ns);
  // To be called now and then with any steady clock: closes a chunk that is old enough.
  void tick(double now_s);
  // Closes the last chunk, writes the index. No more calls after it.
  void close();

 private:
  void message(std::uint16_t channel, std::int64_t time_ns, const std::string& data);
  void flush();
  void append(const std::string& bytes);  // behind what is there; not yet counted as whole
  void whole();                           // all that was appended is; the file is still there
  [[nodiscard]] std::string read(std::uint64_t offset, std::size_t size);
  void append_chunk_indexes();
  [[noreturn]] void fail(const std::string& why, const std::string& mend = "free some space");

  std::string path_;
  int fd_ = -1;
  std::optional<DiskSync> sync_;
  std::uint64_t whole_ = 0;     // bytes of whole records
  std::uint64_t appended_ = 0;  // bytes handed to the system
  std::uint32_t appended_crc_ = 0;
  std::uint64_t data_start_ = 0;  // where the chunks begin
  std::vector<RecordedChannel> channels_;
  std::string schemas_and_channels_;
  std::string chunk_;
  std::uint64_t chunk_start_ns_ = 0, chunk_end_ns_ = 0;
  std::map<std::uint16_t, std::vector<std::pair<std::uint64_t, std::uint64_t>>> chunk_index_;
  std::vector<std::uint32_t> sequence_;
  std::map<std::uint16_t, std::uint64_t> counts_;
  std::uint32_t chunks_ = 0;
  std::uint64_t first_ns_ = 0, last_ns_ = 0;
  double flushed_s_ = -1, synced_s_ = -1;
  std::uint32_t metadata_ = 0;
};

}  // namespace airlatch
