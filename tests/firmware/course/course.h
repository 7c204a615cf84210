/* A course: bytes decide settings and inputs, so that random bytes and a fuzzer's drive alike. */
#ifndef COURSE_H
#define COURSE_H

#include <stddef.h>
#include <stdint.h>

/* Drives the C under test by these bytes; a number made of all that it answered. Says so and
 * aborts where a promise is broken. */
uint32_t course(const uint8_t *bytes, size_t count);

/* For courses: the next byte (0 beyond the last), whether there are more, and words of two. */
uint8_t take(void);
uint8_t more(void);
uint16_t take_word(void);

/* One of the values that follow the type. */
#define ONE_OF(type, ...) \
    (((const type[]){__VA_ARGS__})[take() % (sizeof((const type[]){__VA_ARGS__}) / sizeof(type))])

/* Takes a value into the answer; a promise. */
void note(uint32_t value);
void promise(int kept, const char *what);

/* Each course is written against these. */
void run_course(void);

/* Words that lie beyond what the C may touch. Sanitizers want nothing there. */
#ifdef __SANITIZE_ADDRESS__
#define BEYOND 0u
#else
#define BEYOND 2u
#endif
#define UNTOUCHED UINT32_C(0xA5C3A5C3)

#endif
