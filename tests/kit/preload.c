/*
 * Loaded before libc into a process under test (ld.so(8), LD_PRELOAD). In the
 * directory PRELOAD_DIR it looks at every call for
 *
 *   flush-ms    milliseconds by which fsync and fdatasync take longer
 *   flush-hold  while it is there, no fsync or fdatasync goes on
 *
 * PRELOAD_CLOCK_SECONDS is added to the clock of the day, not to the one that
 * only measures.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

/* The next one of that name: libc's own. Looked up once. */
#define REAL(name)                                                             \
    (__extension__({                                                           \
        static __typeof__(&name) real;                                         \
        if (real == NULL)                                                      \
            real = (__typeof__(&name))dlsym(RTLD_NEXT, #name);                 \
        real;                                                                  \
    }))

/* Whether a file of the directory is there. */
static int told(const char *name, char *path, size_t room)
{
    const char *dir = getenv("PRELOAD_DIR");
    int before = errno, there;

    if (dir == NULL)
        return 0;
    snprintf(path, room, "%s/%s", dir, name);
    there = access(path, F_OK) == 0;
    errno = before;
    return there;
}

static void pause_ms(long ms)
{
    struct timespec rest = {ms / 1000, (ms % 1000) * 1000000L};

    /* Signals are handled, and the pause goes on. */
    while (clock_nanosleep(CLOCK_MONOTONIC, 0, &rest, &rest) == EINTR)
        ;
}

static void be_slow(void)
{
    char path[PATH_MAX], text[32];
    int before = errno, fd;
    ssize_t got;

    if (told("flush-ms", path, sizeof path) && (fd = open(path, O_RDONLY | O_CLOEXEC)) >= 0) {
        got = read(fd, text, sizeof text - 1);
        close(fd);
        text[got > 0 ? got : 0] = '\0';
        pause_ms(atol(text));
    }
    while (told("flush-hold", path, sizeof path))
        pause_ms(1);
    errno = before;
}

int fsync(int fd)
{
    be_slow();
    return REAL(fsync)(fd);
}

int fdatasync(int fd)
{
    be_slow();
    return REAL(fdatasync)(fd);
}

static time_t off_by(void)
{
    const char *seconds = getenv("PRELOAD_CLOCK_SECONDS");

    return seconds == NULL ? 0 : (time_t)atol(seconds);
}

int clock_gettime(clockid_t clock, struct timespec *now)
{
    int done = REAL(clock_gettime)(clock, now);

    if (done == 0 && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE))
        now->tv_sec += off_by();
    return done;
}

int gettimeofday(struct timeval *now, void *zone)
{
    int done = REAL(gettimeofday)(now, zone);

    if (done == 0)
        now->tv_sec += off_by();
    return done;
}

time_t time(time_t *now)
{
    struct timespec found;

    clock_gettime(CLOCK_REALTIME, &found);
    if (now != NULL)
        *now = found.tv_sec;
    return found.tv_sec;
}
