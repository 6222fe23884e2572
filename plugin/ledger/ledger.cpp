// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/ledger/ledger.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <map>

#include "plugin/message/wire.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/lazy/sqlite.hpp"
#include "plugin/system/sha256.hpp"

namespace airlatch {
namespace {
namespace fs = std::filesystem;

constexpr int kApplicationId = 0x616c6c67;  // "allg": distinguishes our files from other databases
constexpr int kVersion = 1;
constexpr const char* kSchema =
    "CREATE TABLE report (id INTEGER PRIMARY KEY, digest TEXT NOT NULL UNIQUE, added TEXT NOT NULL,"
    " date TEXT NOT NULL, vehicle TEXT NOT NULL, job_number TEXT NOT NULL, finding TEXT NOT NULL,"
    " message BLOB NOT NULL)";

// A prepared statement, bound in order.
class Query {
 public:
  Query(sqlite3* db, const char* sql) {
    ok_ = lazy::sqlite3_prepare_v2(db, sql, -1, &statement_, nullptr) == SQLITE_OK;
  }
  ~Query() { lazy::sqlite3_finalize(statement_); }
  Query(const Query&) = delete;
  Query& operator=(const Query&) = delete;
  [[nodiscard]] bool ok() const { return ok_; }
  Query& bind(const std::string& text) {
    lazy::sqlite3_bind_text(statement_, ++bound_, text.data(), static_cast<int>(text.size()),
                            SQLITE_TRANSIENT);
    return *this;
  }
  Query& bind_blob(const std::string& bytes) {
    lazy::sqlite3_bind_blob64(statement_, ++bound_, bytes.data(), bytes.size(), SQLITE_TRANSIENT);
    return *this;
  }
  Query& bind(std::int64_t number) {
    lazy::sqlite3_bind_int64(statement_, ++bound_, number);
    return *this;
  }
  int step() { return lazy::sqlite3_step(statement_); }
  [[nodiscard]] std::string text(int column) const {
    const void* bytes = lazy::sqlite3_column_blob(statement_, column);
    const auto size = static_cast<std::size_t>(lazy::sqlite3_column_bytes(statement_, column));
    return bytes ? std::string(static_cast<const char*>(bytes), size) : std::string();
  }
  [[nodiscard]] std::int64_t number(int column) const {
    return lazy::sqlite3_column_int64(statement_, column);
  }

 private:
  sqlite3_stmt* statement_ = nullptr;
  int bound_ = 0;
  bool ok_ = false;
};

}  // namespace

std::string default_ledger_path() {
  const char *data = std::getenv("XDG_DATA_HOME"), *home = std::getenv("HOME");
  const fs::path base =
      data && *data ? fs::path(data) : fs::path(home && *home ? home : ".") / ".local" / "share";
  return (base / "airlatch" / "ledger.sqlite").string();
}

Ledger::Ledger(const std::string& path) : path_(path), db_(nullptr, lazy::sqlite3_close) {
  std::error_code ignored;
  if (fs::path(path).has_parent_path())
    fs::create_directories(fs::path(path).parent_path(), ignored);
  if (fs::is_directory(path))
    throw InputError(ExitStatus::kCannotCreate, path, "", "is a folder", "name a file");
  sqlite3* db = nullptr;
  const int opened =
      lazy::sqlite3_open_v2(path.c_str(), &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, nullptr);
  db_.reset(db);
  if (opened != SQLITE_OK)
    throw InputError(ExitStatus::kCannotCreate, path, "", "the ledger cannot be opened or made",
                     "name a place you may write to with --ledger FILE");
  lazy::sqlite3_busy_timeout(db, 5000);
  Query id(db, "PRAGMA application_id");
  if (!id.ok() || id.step() != SQLITE_ROW) fail("reading it");
  Query tables(db, "SELECT count(*) FROM sqlite_master");
  if (!tables.ok() || tables.step() != SQLITE_ROW) fail("reading it");
  const bool empty = tables.number(0) == 0;
  if (!empty && id.number(0) != kApplicationId)
    throw InputError(ExitStatus::kUnusableData, path, "", "this database is no ledger of airlatch",
                     "name another file with --ledger");
  Query version(db, "PRAGMA user_version");
  if (!version.ok() || version.step() != SQLITE_ROW) fail("reading it");
  if (!empty && version.number(0) > kVersion)
    throw InputError(ExitStatus::kUnusableData, path, "", "a newer version wrote this ledger",
                     "use that version");
  if (empty) {
    // Once more inside the transaction: two programs may open a new file at the same time.
    const std::string make = fmt::format(
        "PRAGMA synchronous=FULL; BEGIN IMMEDIATE; {}; PRAGMA application_id={}; PRAGMA "
        "user_version={}; COMMIT",
        kSchema, kApplicationId, kVersion);
    if (lazy::sqlite3_exec(db, make.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK) {
      lazy::sqlite3_exec(db, "ROLLBACK", nullptr, nullptr, nullptr);
      Query again(db, "SELECT count(*) FROM report");
      if (!again.ok()) fail("making it");
    }
  } else if (lazy::sqlite3_exec(db, "PRAGMA synchronous=FULL", nullptr, nullptr, nullptr) !=
             SQLITE_OK) {
    fail("opening it");
  }
}

void Ledger::fail(const std::string& doing) const {
  const int code = lazy::sqlite3_errcode(db_.get());
  const std::string what = fmt::format("{} failed: {}", doing, lazy::sqlite3_errmsg(db_.get()));
  if (code == SQLITE_NOTADB || code == SQLITE_CORRUPT)
    throw InputError(ExitStatus::kUnusableData, path_, "", what,
                     "this is no sound ledger; name another file with --ledger");
  if (code == SQLITE_BUSY || code == SQLITE_LOCKED)
    throw InputError(ExitStatus::kReadWriteFailed, path_, "", "another program is writing to it",
                     "try again when it is done");
  if (code == SQLITE_READONLY || code == SQLITE_CANTOPEN)
    throw InputError(ExitStatus::kCannotCreate, path_, "", what,
                     "name a place you may write to with --ledger FILE");
  throw InputError(ExitStatus::kReadWriteFailed, path_, "", what,
                   "free some space, or name another file with --ledger");
}

std::pair<std::int64_t, bool> Ledger::add(const Report& report, const std::string& now_utc) {
  const std::string bytes = to_wire(report), digest = sha256_of(bytes);
  // One statement is one transaction.
  Query insert(db_.get(),
               "INSERT INTO report (digest, added, date, vehicle, job_number, finding, message) "
               "VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (digest) DO NOTHING");
  if (!insert.ok()) fail("adding a report");
  const Job job = report.job.value_or(Job{});
  insert.bind(digest).bind(now_utc).bind(job.date).bind(job.vehicle).bind(job.job_number);
  insert.bind(report.findings.empty() ? std::string() : report.findings[0].code);
  insert.bind_blob(bytes);
  if (insert.step() != SQLITE_DONE) fail("adding a report");
  const bool added = lazy::sqlite3_changes(db_.get()) > 0;
  Query find(db_.get(), "SELECT id FROM report WHERE digest = ?");
  if (!find.ok() || find.bind(digest).step() != SQLITE_ROW) fail("reading it");
  return {find.number(0), added};
}

std::vector<LedgerEntry> Ledger::list(const std::string& vehicle) const {
  Query query(
      db_.get(),
      "SELECT id, added, date, vehicle, job_number, finding FROM report WHERE ?1 = '' OR "
      "vehicle = ?1 ORDER BY CASE date WHEN '' THEN substr(added, 1, 10) ELSE date END, id");
  if (!query.ok()) fail("reading it");
  query.bind(vehicle);
  std::vector<LedgerEntry> out;
  int step = 0;
  while ((step = query.step()) == SQLITE_ROW)
    out.push_back({query.number(0), query.text(1), query.text(2), query.text(3), query.text(4),
                   query.text(5)});
  if (step != SQLITE_DONE) fail("reading it");
  return out;
}

Report Ledger::show(std::int64_t id) const {
  Query query(db_.get(), "SELECT message FROM report WHERE id = ?");
  if (!query.ok()) fail("reading it");
  const int step = query.bind(id).step();
  if (step == SQLITE_DONE)
    throw InputError(ExitStatus::kNotFound, path_, fmt::format("entry {}", id), "there is none",
                     "airlatch ledger list shows them");
  if (step != SQLITE_ROW) fail("reading it");
  Report report;
  if (!from_wire(query.text(0), report))
    throw InputError(ExitStatus::kUnusableData, path_, fmt::format("entry {}", id), "is damaged",
                     "add its report again");
  return report;
}

std::vector<LedgerPoint> Ledger::trend(const std::string& vehicle,
                                       const std::string& measure) const {
  std::vector<LedgerPoint> out;
  for (const LedgerEntry& entry : list(vehicle)) {
    std::map<Direction, Measure> last;  // after a repair, where there was one
    const Report report = show(entry.id);
    for (const Event& event : report.events)
      if (const Measure* m = find_measure(event, measure)) last[event.direction] = *m;
    for (const auto& [direction, m] : last) out.push_back({entry, direction, m});
  }
  return out;
}

}  // namespace airlatch
