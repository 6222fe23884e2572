// SPDX-License-Identifier: GPL-3.0-or-later
// fault_shim.c: makes the n-th system call of a kind fail, in a program that it is preloaded into.
//
// In    AIRLATCH_FAULT=CALL:N:ERRNO, for example read:3:5; CALL malloc fails with no memory. N = 0:
//       none fails. AIRLATCH_FAULT_COUNT names a file that the number of calls is written to.
// How   a seccomp filter sends the calls to a signal handler, which makes them by an instruction
//       that the filter lets through: also those of libraries and of the C library itself are met,
//       which functions of the same name would miss. It begins with `main`: what the loader and
//       libraries do before is not the program's.
//       Writes to stderr do not count: they are how the program says what is wrong.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <signal.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <ucontext.h>
#include <unistd.h>

static atomic_long calls;
static long fail_at, fail_with;
static atomic_int allocations_fail;  // malloc is what is counted

#if defined(__x86_64__)
extern const char fault_shim_after[];
static long call(long n, long a, long b, long c, long d, long e, long f) {
  long result;
  register long r10 __asm__("r10") = d;
  register long r8 __asm__("r8") = e;
  register long r9 __asm__("r9") = f;
  __asm__ volatile(
      "syscall\n"
      ".globl fault_shim_after\n"
      ".hidden fault_shim_after\n"
      "fault_shim_after:\n"
      : "=a"(result)
      : "a"(n), "D"(a), "S"(b), "d"(c), "r"(r10), "r"(r8), "r"(r9)
      : "rcx", "r11", "memory");
  return result;
}

static void on_call(int signal, siginfo_t* about, void* context) {
  (void)signal;
  greg_t* const r = ((ucontext_t*)context)->uc_mcontext.gregs;
  const int to_stderr = about->si_syscall == __NR_write && r[REG_RDI] == STDERR_FILENO;
  if (!to_stderr && atomic_fetch_add(&calls, 1) + 1 == fail_at) {
    r[REG_RAX] = -fail_with;
    return;
  }
  r[REG_RAX] =
      call(about->si_syscall, r[REG_RDI], r[REG_RSI], r[REG_RDX], r[REG_R10], r[REG_R8], r[REG_R9]);
}

// The calls of a name; -1 ends them.
static const struct {
  const char* name;
  int numbers[4];
} kinds[] = {{"read", {__NR_read, __NR_readv, -1}},
             {"pread", {__NR_pread64, -1}},
             {"write", {__NR_write, __NR_writev, -1}},
             {"pwrite", {__NR_pwrite64, -1}},
             {"fsync", {__NR_fsync, __NR_fdatasync, -1}},
             {"rename", {__NR_rename, __NR_renameat, __NR_renameat2, -1}},
             {"open", {__NR_open, __NR_openat, -1}},
             {"close", {__NR_close, -1}},
             {"ftruncate", {__NR_ftruncate, -1}},
             {"mmap", {__NR_mmap, -1}},
             {"stat", {__NR_newfstatat, __NR_fstat, __NR_stat, -1}},
             {"unlink", {__NR_unlink, __NR_unlinkat, -1}}};

static int watch(const int* numbers) {
  struct sigaction action;
  memset(&action, 0, sizeof action);
  action.sa_sigaction = on_call;
  action.sa_flags = SA_SIGINFO | SA_NODEFER;
  if (sigaction(SIGSYS, &action, NULL) != 0) return -1;
  const uintptr_t after = (uintptr_t)fault_shim_after;
  struct sock_filter filter[16];
  unsigned short n = 0;
  const size_t from = offsetof(struct seccomp_data, instruction_pointer);
  filter[n++] = (struct sock_filter)BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (uint32_t)from);
  filter[n++] = (struct sock_filter)BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (uint32_t)after, 0, 3);
  filter[n++] = (struct sock_filter)BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (uint32_t)from + 4);
  filter[n++] =
      (struct sock_filter)BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (uint32_t)(after >> 32), 0, 1);
  filter[n++] = (struct sock_filter)BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW);
  filter[n++] =
      (struct sock_filter)BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr));
  for (; *numbers >= 0; ++numbers) {
    filter[n++] = (struct sock_filter)BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (uint32_t)*numbers, 0, 1);
    filter[n++] = (struct sock_filter)BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_TRAP);
  }
  filter[n++] = (struct sock_filter)BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW);
  const struct sock_fprog program = {n, filter};
  return prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 ||
                 prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program) != 0
             ? -1
             : 0;
}
#else
#error "the handler knows the registers of x86-64 only"
#endif

extern void* __libc_malloc(size_t size);
void* malloc(size_t size) {
  if (atomic_load(&allocations_fail) && atomic_fetch_add(&calls, 1) + 1 == fail_at) {
    errno = ENOMEM;
    return NULL;
  }
  return __libc_malloc(size);
}

static void begin(void) {
  const char* const fault = getenv("AIRLATCH_FAULT");
  char name[16] = "";
  if (!fault || sscanf(fault, "%15[^:]:%ld:%ld", name, &fail_at, &fail_with) != 3) return;
  if (strcmp(name, "malloc") == 0) {
    atomic_store(&allocations_fail, 1);
    return;
  }
  for (size_t k = 0; k < sizeof kinds / sizeof *kinds; ++k)
    if (strcmp(name, kinds[k].name) == 0 && watch(kinds[k].numbers) == 0) return;
  _exit(99);  // nothing was watched: no trial
}

static int (*real_main)(int, char**, char**);
static int watched_main(int argc, char** argv, char** environment) {
  begin();
  return real_main(argc, argv, environment);
}

typedef int Start(int (*)(int, char**, char**), int, char**, void (*)(void), void (*)(void),
                  void (*)(void), void*);
int __libc_start_main(int (*main)(int, char**, char**), int argc, char** argv, void (*init)(void),
                      void (*fini)(void), void (*end_of_loader)(void), void* stack_end) {
  Start* start = NULL;
  void* const found = dlsym(RTLD_NEXT, "__libc_start_main");
  memcpy(&start, &found,
         sizeof start);  // an object pointer, which the standard lets be no function's
  real_main = main;
  return start(watched_main, argc, argv, init, fini, end_of_loader, stack_end);
}

__attribute__((destructor)) static void end(void) {
  const char* const file = getenv("AIRLATCH_FAULT_COUNT");
  const long made = atomic_load(&calls);
  fail_at = 0;
  if (!file) return;
  char text[32];
  const int size = snprintf(text, sizeof text, "%ld", made);
  const int fd = open(file, O_WRONLY | O_CREAT | O_TRUNC, 0600);
  if (fd < 0 || write(fd, text, (size_t)size) != size) _exit(99);
  close(fd);
}
