// SPDX-License-Identifier: GPL-3.0-or-later
// ledger.hpp: the workshop's history: reports kept by vehicle, in one SQLite file.
//
// How   each report is kept whole, as the binary message, and found by a SHA-256 of its content, so
//       that one that is added twice is one entry. Every change is one transaction with full
//       synchronisation: killed in the middle, the file holds what was there before.
// Who   one program at a time writes, and makes a new file; others wait up to half a minute.
#pragma once
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "plugin/message/report.hpp"

struct sqlite3;

namespace airlatch {

struct LedgerEntry {
  std::int64_t id = 0;
  std::string added;  // ISO 8601, UTC
  std::string date;   // of the job; empty: not given
  std::string vehicle, job_number;
  std::string finding;  // the most likely one
};

struct LedgerPoint {  // one report's measure, in one direction
  LedgerEntry entry;
  Direction direction = Direction::UNKNOWN;
  Measure measure;
};

// $XDG_DATA_HOME/airlatch/ledger.sqlite, or ~/.local/share/... (XDG base directory specification).
std::string default_ledger_path();

// All members throw InputError.
class Ledger {
 public:
  // Opens the file; makes it, and its folder, where it is missing.
  explicit Ledger(const std::string& path);
  // The entry's number, and whether it is new.
  std::pair<std::int64_t, bool> add(const Report& report, const std::string& now_utc);
  // All entries, or a vehicle's, by date, then as they were added.
  [[nodiscard]] std::vector<LedgerEntry> list(const std::string& vehicle = "") const;
  [[nodiscard]] Report show(std::int64_t id) const;
  // The last value of a measure in each report of the vehicle and in each direction.
  [[nodiscard]] std::vector<LedgerPoint> trend(const std::string& vehicle,
                                               const std::string& measure) const;

 private:
  [[nodiscard]] bool is_empty() const;  // or a ledger of this version
  void do_all(const std::string& statements, const char* doing) const;
  [[noreturn]] void fail(const std::string& doing) const;
  std::string path_;
  std::unique_ptr<sqlite3, int (*)(sqlite3*)> db_;
};

}  // namespace airlatch
