/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A libsigrok host with the tap: replays a session file, as any libsigrok program would, and prints
 * each event as one line of hexadecimal bytes.
 *
 *     tap_host CAPTURE.sr [RIG] */
#include <stdio.h>
#include <stdlib.h>

#include "airlatch_tap.h"

static void print_event(const void* event, size_t size, void* context) {
  (void)context;
  const unsigned char* bytes = event;
  for (size_t i = 0; i < size; ++i) printf("%02x", bytes[i]);
  printf("\n");
}

int main(int argc, char** argv) {
  if (argc < 2) {
    fprintf(stderr, "tap_host CAPTURE.sr [RIG]\n");
    return 64;
  }
  char rig[65536];
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.on_event = print_event;
  if (argc > 2) {
    FILE* file = fopen(argv[2], "rb");
    if (!file) return 66;
    options.rig_size = fread(rig, 1, sizeof rig, file);
    options.rig = rig;
    fclose(file);
  }
  struct sr_context* context = NULL;
  struct sr_session* session = NULL;
  if (sr_init(&context) != SR_OK || sr_session_load(context, argv[1], &session) != SR_OK) return 65;
  airlatch_tap* tap = NULL;
  if (airlatch_tap_attach(session, &options, &tap) != AIRLATCH_OK) {
    fprintf(stderr, "tap_host: %s\n", airlatch_last_error(NULL));
    return 65;
  }
  if (sr_session_start(session) == SR_OK) sr_session_run(session);
  airlatch_tap_detach(tap);
  sr_session_destroy(session);
  sr_exit(context);
  return 0;
}
