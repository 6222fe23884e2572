// SPDX-License-Identifier: GPL-3.0-or-later
// compose.hpp: a judged job as a document: for the customer, the technician, a stranger in ten years.
#pragma once
#include "plugin/report/document.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/language.hpp"

namespace airlatch {

// All of it.
Document composed(const JobReport& test, const Language& language);

// Its parts. The customer's page has no code, no name of an event, and no digit that is not sure; the
// others are in English, exact.
Section customer_page(const JobReport& test, const Language& language);
Section technician_pages(const JobReport& test);
Section appendix(const JobReport& test);

// "line-leak.sr (before)": a capture as the technician's pages name it.
Words capture_name(const Report& report, std::size_t capture);
// "run time 1.772 ± 0.012 s".
std::string measure_words(const Measure& measure);
// An event's line, with its contact and way.
std::string event_words(const Event& event);

}  // namespace airlatch
