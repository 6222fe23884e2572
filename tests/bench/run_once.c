/* SPDX-License-Identifier: GPL-3.0-or-later */
/* run_once PROGRAM ARGUMENT...: runs it with its output thrown away; prints seconds, peak MiB and the
   processor's seconds.
   A process's peak memory counts from that of whoever starts it: this one is small. */
#include <fcntl.h>
#include <spawn.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

extern char** environ;

static double now_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double seconds_of(struct timeval t) { return (double)t.tv_sec + 1e-6 * (double)t.tv_usec; }

int main(int argc, char** argv) {
  pid_t pid = 0;
  int status = 0;
  struct rusage usage;
  posix_spawn_file_actions_t away;
  posix_spawn_file_actions_init(&away);
  posix_spawn_file_actions_addopen(&away, 1, "/dev/null", O_WRONLY, 0);
  posix_spawn_file_actions_addopen(&away, 2, "/dev/null", O_WRONLY, 0);
  const double began_s = now_s();
  if (argc < 2 || posix_spawnp(&pid, argv[1], &away, NULL, argv + 1, environ) != 0 ||
      wait4(pid, &status, 0, &usage) != pid)
    return 127;
  printf("%.6f %.3f %.6f\n", now_s() - began_s, (double)usage.ru_maxrss / 1024,
         seconds_of(usage.ru_utime) + seconds_of(usage.ru_stime));
  return WIFEXITED(status) ? WEXITSTATUS(status) : 126;
}
