// SPDX-License-Identifier: GPL-3.0-or-later
// document_writers.hpp: a document as files for people.
#pragma once
#include <string>

#include "plugin/report/document.hpp"

namespace airlatch {

enum class Paper { kA4, kLetter };
// Letter where LC_PAPER, or what stands for it, names a country that uses it.
Paper paper_of_environment();

std::string html_page(const Document& document);

// Tagged pages: no row of a table and no picture is split, every page has its number and the job.
std::string pdf_pages(const Document& document, Paper paper);

}  // namespace airlatch
