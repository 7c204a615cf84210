/* Runs as many courses of random bytes as told and prints what they answered. */
#include <stdio.h>
#include <stdlib.h>

#include "course.h"
#include "random_bytes.h"

int main(int count, char **words)
{
    uint32_t courses = count == 2 ? (uint32_t)atoi(words[1]) : 0u;
    for (uint32_t i = 0u; i < courses; i++) {
        uint8_t bytes[COURSE_BYTES];
        random_bytes(i, bytes);
        printf("%08lx\n", (unsigned long)course(bytes, COURSE_BYTES));
    }
    return courses == 0u;
}
