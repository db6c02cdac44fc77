/* Stands between the program and the system for the exam: the Nth write or sync of a file whose path holds a word
   fails, once or from then on; its disk is full while another file is there; and the clock of the day may stand
   elsewhere. Loaded before the C library. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <time.h>
#include <unistd.h>

static long count;

/* Whether this call on this file is one that fails. */
static int fails(int fd)
{
    const char *at = getenv("SHIM_FAIL_AT"), *word = getenv("SHIM_FILE"), *full = getenv("SHIM_FULL");
    char link[64], path[PATH_MAX];
    ssize_t length;
    if ((!at && !full) || !word) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    length = readlink(link, path, sizeof path - 1);
    if (length <= 0) return 0;
    path[length] = 0;
    if (!strstr(path, word)) return 0;
    if (full) {
        if (access(full, F_OK) != 0) return 0;
        errno = ENOSPC;
        return 1;
    }
    count++;
    if (count < atol(at) || (count > atol(at) && !getenv("SHIM_FOR_GOOD"))) return 0;
    /* That it struck is told by a file of its own. */
    const char *mark = getenv("SHIM_MARK");
    FILE *told = mark ? fopen(mark, "w") : NULL;
    if (told) fclose(told);
    errno = EIO;
    return 1;
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

ssize_t write(int fd, const void *data, size_t size) { return fails(fd) ? -1 : REAL(write)(fd, data, size); }
ssize_t pwrite(int fd, const void *data, size_t size, off_t at)
{
    return fails(fd) ? -1 : REAL(pwrite)(fd, data, size, at);
}
ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at)
{
    return fails(fd) ? -1 : REAL(pwrite64)(fd, data, size, at);
}
int fsync(int fd) { return fails(fd) ? -1 : REAL(fsync)(fd); }
int fdatasync(int fd) { return fails(fd) ? -1 : REAL(fdatasync)(fd); }
int ftruncate(int fd, off_t size) { return fails(fd) ? -1 : REAL(ftruncate)(fd, size); }
int ftruncate64(int fd, off64_t size) { return fails(fd) ? -1 : REAL(ftruncate64)(fd, size); }

int clock_gettime(clockid_t clock, struct timespec *time)
{
    const char *ahead = getenv("SHIM_CLOCK_AHEAD_S");
    int answer = REAL(clock_gettime)(clock, time);
    if (answer == 0 && ahead && clock == CLOCK_REALTIME) time->tv_sec += atol(ahead);
    return answer;
}
