// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/delimited_text.hpp"

#include "plugin/sources/long_table.hpp"
#include "plugin/sources/table_lines.hpp"
#include "plugin/sources/wide_table.hpp"

namespace airlatch {

std::unique_ptr<Source> open_delimited_text(const std::string& path, const OpenOptions& options) {
  auto lines = std::make_unique<TableLines>(path, options.hashed);
  const TableHead head = lines->head(options.text.skip_lines);
  TableLayout layout =
      layout_of(head, options, [&](const TableLayout& so_far) { return lines->walk(so_far); });
  if (layout.channel_column) return open_long_table(std::move(lines), std::move(layout), head);
  return open_wide_table(std::move(lines), std::move(layout));
}

}  // namespace airlatch
