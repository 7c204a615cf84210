/* The bytes of course number so and so, the same on every machine. */
#ifndef RANDOM_BYTES_H
#define RANDOM_BYTES_H

#include <stddef.h>
#include <stdint.h>

#define COURSE_BYTES 400u

static void random_bytes(uint32_t number, uint8_t *bytes)
{
    uint32_t x = number * UINT32_C(2654435769) + 1u;
    for (size_t i = 0u; i < COURSE_BYTES; i++) {
        x ^= x << 13;
        x ^= x >> 17;
        x ^= x << 5;
        bytes[i] = (uint8_t)(x >> 24);
    }
}

#endif
