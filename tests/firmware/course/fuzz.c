/* A fuzzer that keeps what leads to new ways through the C, and changes it on and on.
 *
 *   fuzz EXECUTIONS SEED    tells executions, courses kept and ways seen
 *   fuzz FILE               one course
 *
 * What breaks a promise, or a sanitizer stops, is written to found.bin. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "course.h"
#include "edges.h"

#define MOST_KEPT 4096u
#define MOST_BYTES 400u
#define FIRST 16u

struct kept {
    uint8_t bytes[MOST_BYTES];
    uint32_t count;
};

static struct kept kept[MOST_KEPT], tried;
static uint32_t kept_count, random_now;

static uint32_t below(uint32_t end)
{
    random_now ^= random_now << 13;
    random_now ^= random_now >> 17;
    random_now ^= random_now << 5;
    return (uint32_t)((uint64_t)random_now * end >> 32);
}

static void write_down(int signal_number)
{
    FILE *file = fopen("found.bin", "wb");
    (void)signal_number;
    if (file != NULL) {
        (void)fwrite(tried.bytes, 1u, tried.count, file);
        (void)fclose(file);
    }
    _Exit(3);
}

static void change_once(void)
{
    static const uint8_t edge[] = {0u, 1u, 127u, 128u, 254u, 255u};
    uint32_t at = tried.count != 0u ? below(tried.count) : 0u;
    uint32_t left = tried.count - at, length = 1u + below(8u);
    const struct kept *other = &kept[below(kept_count)];
    switch (tried.count != 0u ? below(7u) : 6u) {
    case 0u:
        tried.bytes[at] ^= (uint8_t)(1u << below(8u));
        break;
    case 1u:
        tried.bytes[at] = (uint8_t)below(256u);
        break;
    case 2u:
        tried.bytes[at] = edge[below(sizeof edge)];
        break;
    case 3u: /* leave some out */
        length = length < left ? length : left;
        memmove(&tried.bytes[at], &tried.bytes[at + length], left - length);
        tried.count -= length;
        break;
    case 4u: /* another's end */
        if (other->count > at) {
            memcpy(&tried.bytes[at], &other->bytes[at], other->count - at);
            tried.count = other->count;
        }
        break;
    case 5u: /* some of it again */
        length = length < left ? length : left;
        if (tried.count + length <= MOST_BYTES) {
            memmove(&tried.bytes[at + length], &tried.bytes[at], left);
            tried.count += length;
        }
        break;
    default: /* more at the end */
        for (; length != 0u && tried.count < MOST_BYTES; length--) {
            tried.bytes[tried.count++] = (uint8_t)below(256u);
        }
    }
}

static void try_it(void)
{
    edges_begin();
    (void)course(tried.bytes, tried.count);
    if (edges_new() != 0u && kept_count < MOST_KEPT) {
        kept[kept_count++] = tried;
    }
}

static int one_course(const char *name)
{
    FILE *file = fopen(name, "rb");
    if (file == NULL) {
        return 2;
    }
    tried.count = (uint32_t)fread(tried.bytes, 1u, MOST_BYTES, file);
    (void)fclose(file);
    printf("%08lx\n", (unsigned long)course(tried.bytes, tried.count));
    return 0;
}

int main(int count, char **words)
{
    if (count != 3) {
        return count == 2 ? one_course(words[1]) : 2;
    }
    uint32_t executions = (uint32_t)atoi(words[1]);
    random_now = (uint32_t)atoi(words[2]) * UINT32_C(2654435769) + 1u;
    (void)signal(SIGABRT, write_down);
    kept_count = 1u; /* the empty course */
    for (uint32_t i = 0u; i < executions; i++) {
        tried = kept[below(kept_count)];
        unsigned changes = i < FIRST ? 40u : 1u << below(6u);
        for (; changes != 0u; changes--) {
            change_once();
        }
        try_it();
    }
    printf("%lu %lu %u\n", (unsigned long)executions, (unsigned long)kept_count, edges_seen());
    return 0;
}
