// SPDX-License-Identifier: GPL-3.0-or-later
// kinds.hpp: what the program does with each kind of event: one row a kind.
//
// The rows are in the order of the enum, and there is one for each: the compiler checks both, so
// that a new kind does not build before it has its row.
#pragma once
#include <string>

#include "decoders/event.hpp"

namespace airlatch {

// Events that are compared with each other; both ways of ending a run are one.
enum class Family { kNone, kFeed, kStart, kRun, kRest };

struct KindRow {
  Kind kind = Kind::UNSPECIFIED;
  std::string (*words)(const Event&) = nullptr;  // the event's line in a summary
  const char* mark = nullptr;                    // beside its line in a plot; null: not marked
  const char* alarm = nullptr;                   // what cannot wait in a live test; null: nothing
  Family family = Family::kNone;
};

const KindRow& row_of(Kind kind);

// "feed", "start", "run", "line left alone"; empty for none.
const char* family_words(Family family);

// "blowing", "sucking", "direction not known".
const char* direction_words(Direction direction);
// "contact A"; empty where it is not known.
const char* contact_words(Contact contact);
// What is missing of the event and why, then its note: "supply_sag: no supply channel; ...".
std::string remark_words(const Event& event);
// What a line loses in `unit`, or the bound where that cannot be distinguished from nothing.
std::string loss_words(const Event& decay, const char* unit);

}  // namespace airlatch
