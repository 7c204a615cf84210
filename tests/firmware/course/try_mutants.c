/* Tries the mutants named, each in a process of its own: prints the numbers of those that answer
 * every course as the C without a wrong does. Hanging, for hundreds of times as long, is noticed. */
#define _XOPEN_SOURCE 700
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include "course.h"
#include "random_bytes.h"

#define LONGEST_US 24000

int mutant_now = 0;

static uint32_t answer(uint32_t number)
{
    uint8_t bytes[COURSE_BYTES];
    random_bytes(number, bytes);
    return course(bytes, COURSE_BYTES);
}

static void try_one(const uint32_t *expected, uint32_t courses)
{
    const struct rlimit none = {0, 0};
    const struct itimerval longest = {{0, 0}, {0, LONGEST_US}};
    setrlimit(RLIMIT_CORE, &none);
    if (freopen("/dev/null", "w", stderr) == NULL) {
        _exit(2);
    }
    for (uint32_t i = 0u; i < courses; i++) {
        setitimer(ITIMER_VIRTUAL, &longest, NULL);
        if (answer(i) != expected[i]) {
            _exit(1);
        }
    }
    _exit(0);
}

int main(int count, char **words)
{
    uint32_t courses = count > 2 ? (uint32_t)atoi(words[1]) : 0u;
    uint32_t *expected = calloc(courses, sizeof *expected);
    if (courses == 0u || expected == NULL) {
        return 2;
    }
    for (uint32_t i = 0u; i < courses; i++) {
        expected[i] = answer(i);
    }
    for (int i = 2; i < count; i++) {
        int mutant = atoi(words[i]), status;
        pid_t child = fork();
        if (child == 0) {
            mutant_now = mutant;
            try_one(expected, courses);
        }
        if (child < 0 || waitpid(child, &status, 0) != child) {
            return 2;
        }
        if (WIFEXITED(status) && WEXITSTATUS(status) == 0) {
            printf("%d\n", mutant);
        }
    }
    free(expected);
    return 0;
}
