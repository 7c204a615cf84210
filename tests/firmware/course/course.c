/* The bytes of a course, and the number made of its answers. */
#include "course.h"

#include <stdio.h>
#include <stdlib.h>

static const uint8_t *now, *end;
static uint32_t answered;

uint8_t take(void)
{
    return now < end ? *now++ : 0u;
}

uint8_t more(void)
{
    return now < end;
}

uint16_t take_word(void)
{
    uint16_t high = take();
    return (uint16_t)(high << 8 | take());
}

void note(uint32_t value)
{
    for (unsigned i = 0u; i < 4u; i++) { /* FNV-1a */
        answered = (answered ^ (value >> (8u * i) & 0xFFu)) * UINT32_C(16777619);
    }
}

void promise(int kept, const char *what)
{
    if (!kept) {
        fprintf(stderr, "broken promise: %s\n", what);
        abort();
    }
}

uint32_t course(const uint8_t *bytes, size_t count)
{
    now = bytes;
    end = bytes + count;
    answered = UINT32_C(2166136261);
    run_course();
    return answered;
}
