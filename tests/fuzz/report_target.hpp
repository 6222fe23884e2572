// SPDX-License-Identifier: GPL-3.0-or-later
// report_target.hpp: a written report, read, compared with itself, shown and written again.
#pragma once
#include <string>
#include <string_view>

#include "plugin/report/job_report.hpp"
#include "plugin/report/report_file.hpp"
#include "plugin/report/words.hpp"
#include "tests/fuzz/target.hpp"

namespace airlatch::fuzz {

inline void check_report(std::string_view bytes) {
  const MemoryFile file(bytes);
  may_refuse([&] {
    JobReport before, after;
    before.report = after.report = read_report(file.path());
    const std::string json = report_json(before.report);
    const MemoryFile written(json);
    promise(report_json(read_report(written.path())) == json, "a report reads as it was written");
    const JobReport both = compare_reports(std::move(before), std::move(after));
    for (const Report::Change& change : both.report.changes)
      static_cast<void>(change_words(change));
    static_cast<void>(report_html(both));
  });
}

}  // namespace airlatch::fuzz
