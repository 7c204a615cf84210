/* A controller through rows of codes and requests from a file, for builds with sanitizers: every
 * block of memory has the size that the controller was promised, and not a byte more. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "controller.h"

static void *exactly(size_t bytes)
{
    void *memory = malloc(bytes);
    if (memory == NULL) {
        exit(3);
    }
    return memory;
}

static void expect(const char *name, const uint16_t *given, const uint16_t *now, size_t count)
{
    if (memcmp(given, now, 2u * count) != 0) {
        (void)fprintf(stderr, "runtime error: write to the %s, which are const\n", name);
        exit(4);
    }
}

int main(int count, char **words)
{
    if (count != 4) {
        return 2;
    }
    size_t sensors = (size_t)atoi(words[2]), channels = (size_t)atoi(words[3]);
    FILE *file = fopen(words[1], "rb");
    if (file == NULL) {
        return 2;
    }
    void *state = exactly(controller_size());
    uint16_t *codes = exactly(2u * sensors);
    uint16_t *requests = exactly(2u * channels);
    uint16_t *duties = exactly(2u * channels);
    uint16_t *given = exactly(2u * (sensors + channels));
    controller_start(state);
    while (fread(codes, 2u, sensors, file) == sensors &&
           fread(requests, 2u, channels, file) == channels) {
        (void)memcpy(given, codes, 2u * sensors);
        (void)memcpy(given + sensors, requests, 2u * channels);
        (void)controller_step(state, codes, requests, duties);
        expect("codes", given, codes, sensors);
        expect("requests", given + sensors, requests, channels);
    }
    (void)fclose(file);
    free(state);
    free(codes);
    free(requests);
    free(duties);
    free(given);
    return 0;
}
