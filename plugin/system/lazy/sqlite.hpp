// SPDX-License-Identifier: GPL-3.0-or-later
// sqlite.hpp: the functions of SQLite (the ledger file) that are used, loaded at the first call.
#pragma once
#include <sqlite3.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kSqlite{"libsqlite3.so.0", "libsqlite3-0"};
AIRLATCH_LAZY(kSqlite, sqlite3_bind_blob64)
AIRLATCH_LAZY(kSqlite, sqlite3_bind_int64)
AIRLATCH_LAZY(kSqlite, sqlite3_bind_text)
AIRLATCH_LAZY(kSqlite, sqlite3_busy_timeout)
AIRLATCH_LAZY(kSqlite, sqlite3_changes)
AIRLATCH_LAZY(kSqlite, sqlite3_close)
AIRLATCH_LAZY(kSqlite, sqlite3_column_blob)
AIRLATCH_LAZY(kSqlite, sqlite3_column_bytes)
AIRLATCH_LAZY(kSqlite, sqlite3_column_int64)
AIRLATCH_LAZY(kSqlite, sqlite3_errcode)
AIRLATCH_LAZY(kSqlite, sqlite3_errmsg)
AIRLATCH_LAZY(kSqlite, sqlite3_exec)
AIRLATCH_LAZY(kSqlite, sqlite3_finalize)
AIRLATCH_LAZY(kSqlite, sqlite3_open_v2)
AIRLATCH_LAZY(kSqlite, sqlite3_prepare_v2)
AIRLATCH_LAZY(kSqlite, sqlite3_step)

}  // namespace airlatch::lazy
