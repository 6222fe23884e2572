// SPDX-License-Identifier: GPL-3.0-or-later
// text_words.hpp: words that stand in the headers and preambles of measured tables, in English,
// German, French, Spanish, Italian, Dutch, Portuguese and Polish.
//
// In    names as a file has them, in UTF-8 or one-byte letters.
// Out   what they mean. A word alone decides nothing: whoever asks also looks at the cells.
#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace airlatch {

// Text that is no UTF-8, taken for one-byte letters (ISO 8859-1, which all such programs share but
// for quotes and the euro).
std::string as_utf8(std::string_view text);

// In lower case, without accents, words apart by one blank: "Elapsed_Time (ms)", "elapsedTimeMs"
// and "ELAPSED TIME [MS]" are all "elapsed time ms".
std::string folded(std::string_view name);

enum class Meaning { kTime, kDate, kIndex, kChannel, kValue, kUnit, kStatistic };
// Whether a folded name means it: the whole of it, or for times and dates a word of it.
bool means(const std::string& folded_name, Meaning meaning);

enum class Stated { kRate, kInterval, kTimeUnit, kSeparator, kDecimal, kStart };
// What a folded line of a preamble states first, and where the words for it end.
struct StatedAt {
  Stated what;
  std::size_t end;
};
std::optional<StatedAt> stated_in(const std::string& folded_line);

std::optional<int> month_of(std::string_view folded_word);  // 1 to 12
bool is_weekday(std::string_view folded_word);

}  // namespace airlatch
