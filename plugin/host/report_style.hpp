// SPDX-License-Identifier: GPL-3.0-or-later
// report_style.hpp: the options of whoever writes a report: for whom, and on which paper.
#pragma once
#include <string>

#include "plugin/host/arguments.hpp"
#include "plugin/report/job_report.hpp"

namespace airlatch {

struct StyleOptions {
  std::string language, paper;  // empty: as the environment asks

  void declare(Arguments& app) {
    app.option("--language", language, "of the report's customer page (default: LANG, else en)")
        .one_of(Language::codes());
    app.option("--paper", paper, "of the PDF (default: by LC_PAPER, else a4)")
        .one_of({"a4", "letter"});
  }
  [[nodiscard]] ReportStyle style() const {
    ReportStyle out;
    if (!language.empty()) out.language = Language::of(language);
    if (!paper.empty()) out.paper = paper == "letter" ? Paper::kLetter : Paper::kA4;
    return out;
  }
};

}  // namespace airlatch
