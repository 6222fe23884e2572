// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/ledger/ledger.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <map>
#include <new>

#include "plugin/message/wire.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/lazy/sqlite.hpp"
#include "plugin/system/sha256.hpp"

namespace airlatch {
namespace {
namespace fs = std::filesystem;

constexpr int kApplicationId = 0x616c6c67;  // "allg": distinguishes our files from other databases
constexpr int kVersion = 1;
constexpr int kPatience_ms = 30'000;  // until another program has written
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
  if (!db) throw std::bad_alloc();
  if (opened != SQLITE_OK)
    throw InputError(ExitStatus::kCannotCreate, path, "", "the ledger cannot be opened or made",
                     "name a place you may write to with --ledger FILE");
  lazy::sqlite3_busy_timeout(db, kPatience_ms);
  do_all("PRAGMA synchronous=FULL", "opening it");
  // What is there is looked at in one transaction, and again in the one that makes what is missing:
  // any number of programs may open a new file at once.
  do_all("BEGIN", "reading it");
  const bool empty = is_empty();
  do_all("COMMIT", "reading it");
  if (!empty) return;
  do_all("BEGIN IMMEDIATE", "making it");
  try {
    if (is_empty())
      do_all(fmt::format("{}; PRAGMA application_id={}; PRAGMA user_version={}", kSchema,
                         kApplicationId, kVersion),
             "making it");
    do_all("COMMIT", "making it");
  } catch (...) {
    lazy::sqlite3_exec(db, "ROLLBACK", nullptr, nullptr, nullptr);
    throw;
  }
}

void Ledger::do_all(const std::string& statements, const char* doing) const {
  if (lazy::sqlite3_exec(db_.get(), statements.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK)
    fail(doing);
}

bool Ledger::is_empty() const {
  const auto number = [this](const char* sql) {
    Query query(db_.get(), sql);
    if (!query.ok() || query.step() != SQLITE_ROW) fail("reading it");
    return query.number(0);
  };
  if (number("SELECT count(*) FROM sqlite_master") == 0) return true;
  if (number("PRAGMA application_id") != kApplicationId)
    throw InputError(ExitStatus::kUnusableData, path_, "", "this database is no ledger of airlatch",
                     "name another file with --ledger");
  if (number("PRAGMA user_version") > kVersion)
    throw InputError(ExitStatus::kUnusableData, path_, "", "a newer version wrote this ledger",
                     "use that version");
  return false;
}

// What went wrong, each with the mend that helps.
void Ledger::fail(const std::string& doing) const {
  const int code = lazy::sqlite3_errcode(db_.get()) & 0xff;
  const std::string what = fmt::format("{} failed: {}", doing, lazy::sqlite3_errmsg(db_.get()));
  const auto refusal = [&](ExitStatus status, const std::string& why, const char* mend) {
    return InputError(status, path_, "", why, mend);
  };
  switch (code) {
    case SQLITE_NOTADB:
      throw refusal(ExitStatus::kUnusableData, "this is no ledger of airlatch",
                    "name another file with --ledger");
    case SQLITE_CORRUPT:
      throw refusal(
          ExitStatus::kUnusableData, what,
          "the ledger is damaged, or cannot be read: check its disk, then take its latest copy");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      throw refusal(ExitStatus::kReadWriteFailed, "another program is writing to it",
                    "try again when it is done");
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_AUTH:
      throw refusal(ExitStatus::kCannotCreate, what,
                    "name a place you may write to with --ledger FILE");
    case SQLITE_FULL:
      throw refusal(ExitStatus::kReadWriteFailed, what,
                    "free some space, or name another file with --ledger");
    case SQLITE_TOOBIG:
      throw refusal(ExitStatus::kUnusableData, what, "add a smaller report");
    case SQLITE_NOMEM:
      throw std::bad_alloc();
    default:  // SQLITE_IOERR and what should not be
      throw refusal(ExitStatus::kReadWriteFailed, what,
                    "check the disk that holds it, and try again");
  }
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
