/* SPDX-License-Identifier: GPL-3.0-or-later */
/* libsigrok's own replay of a session file with a callback that does nothing: the peer of reading
 * one.    libsigrok_replay FILE.sr */
#include <libsigrok/libsigrok.h>
#include <stdio.h>

static void nothing(const struct sr_dev_inst* device, const struct sr_datafeed_packet* packet,
                    void* data) {
  (void)device;
  (void)packet;
  (void)data;
}

int main(int argc, char** argv) {
  struct sr_context* context;
  struct sr_session* session;
  if (argc != 2 || sr_init(&context) != SR_OK) return 2;
  if (sr_session_load(context, argv[1], &session) != SR_OK) return 66;
  sr_session_datafeed_callback_add(session, nothing, NULL);
  if (sr_session_start(session) != SR_OK) return 1;
  sr_session_run(session);
  sr_session_destroy(session);
  sr_exit(context);
  return 0;
}
