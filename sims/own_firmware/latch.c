/* Invented, with a mistake: half light above 60 degC, all light below; both comparisons are strict
 * and made on whole degrees, so that from 60.00 to 60.99 degC it stays as it was. */
#include "controller.h"
#include "conversion.h"

#define THRESHOLD_C 60

struct own_state {
    uint8_t dimmed;
};

uint16_t controller_size(void)
{
    return sizeof(struct own_state);
}

void controller_start(void *state)
{
    ((struct own_state *)state)->dimmed = 0u;
}

uint32_t controller_step(void *state, const uint16_t *codes, const uint16_t *requests_q15,
                         uint16_t *duties_q15)
{
    struct own_state *own = state;
    if (is_fault(codes[0])) {
        return drive(SAFE_Q15, requests_q15, duties_q15);
    }
    int16_t degrees = (int16_t)(reading_of(codes[0]) / 100);
    if (degrees > THRESHOLD_C) {
        own->dimmed = 1u;
    } else if (degrees < THRESHOLD_C) {
        own->dimmed = 0u;
    }
    return drive(own->dimmed ? 16384u : 32768u, requests_q15, duties_q15);
}
