/* A kernel that says of one datagram that it is longer than the room that it was given: the data plane,
 * which takes the kernel at its word, panics. Loaded before the C library (ld.so(8), LD_PRELOAD). */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

static const char FAULT[] = "of this the kernel says something wrong";

typedef int taking(int, struct mmsghdr *, unsigned int, int, struct timespec *);

int recvmmsg(int socket, struct mmsghdr *messages, unsigned int most, int flags,
             struct timespec *timeout) {
    static taking *take;
    if (take == NULL)
        take = (taking *)dlsym(RTLD_NEXT, "recvmmsg");
    int taken = take(socket, messages, most, flags, timeout);
    for (int at = 0; at < taken; at++) {
        struct iovec *room = messages[at].msg_hdr.msg_iov;
        if (messages[at].msg_len == sizeof FAULT - 1 &&
            memcmp(room->iov_base, FAULT, sizeof FAULT - 1) == 0)
            messages[at].msg_len = (unsigned int)room->iov_len + 1;
    }
    return taken;
}
