// SPDX-License-Identifier: GPL-3.0-or-later
// number_forms.hpp: how each column of a table writes its numbers.
//
// How   a column's form is one that all its cells allow. Of several, the one whose decimal mark the
//       other columns, the preamble or the rig tell; a mark before exactly three digits in every
//       cell says nothing by itself: a point is then decimal, a comma is looked for further down the
//       file and then asked for.
#pragma once
#include <string>
#include <vector>

#include "decoders/setup.hpp"
#include "plugin/sources/column_facts.hpp"
#include "plugin/sources/table_layout.hpp"

namespace airlatch {

struct FormQuestion {
  const std::string& file;
  const std::vector<HeadLine>& head;
  const FoundTable& table;
  const TableFacts& facts;
  DecimalMark rig = DecimalMark::UNSPECIFIED;
  char stated = 0;  // by the preamble
  WalkRows walk;
};
struct ChosenForm {
  NumberForm form = {};
  bool open = false;  // only whole numbers so far: the first with a mark tells
};
// One a column. Throws InputError where the rig must tell.
std::vector<ChosenForm> number_forms(const FormQuestion& question);

}  // namespace airlatch
