/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The header alone, as C11 with all warnings: it must need nothing and say nothing. */
#include "plugin/airlatch.h"

int airlatch_header_is_plain_c(void);
int airlatch_header_is_plain_c(void) {
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  return (int)options.format;
}
