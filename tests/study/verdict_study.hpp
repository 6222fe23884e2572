// SPDX-License-Identifier: GPL-3.0-or-later
// verdict_study.hpp: are the verdict's likelihoods as good as they say, also where channels are
// missing and meters slow?
#pragma once

namespace airlatch::test {
void verdict_tables();
}  // namespace airlatch::test
