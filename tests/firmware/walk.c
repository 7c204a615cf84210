/* A long walk through the controller, for builds with sanitizers: any code, request and restart.
 * Exits with 1 when a duty is above its request or the limit. */
#include <stdint.h>

#include "controller.h"

#define STEPS 300000u
#define STATE_WORDS 32u

static uint32_t now = 1u;

static uint16_t any(void)
{
    now = now * UINT32_C(1664525) + UINT32_C(1013904223);
    return (uint16_t)(now >> 16);
}

static uint16_t code(void)
{
    uint16_t kind = any() & 15u;
    if (kind == 0u) {
        return any();
    }
    return kind == 1u ? UINT16_C(65535) : (uint16_t)(300u + any() % 3740u);
}

int main(void)
{
    uint32_t state[STATE_WORDS];
    uint16_t codes[2], requests[2], duties[2];
    if (controller_size() > sizeof state) {
        return 2;
    }
    controller_start(state);
    for (uint32_t i = 0u; i < STEPS; i++) {
        codes[0] = code();
        codes[1] = code();
        requests[0] = any();
        requests[1] = any();
        uint32_t answer = controller_step(state, codes, requests, duties);
        for (unsigned channel = 0u; channel < 2u; channel++) {
            if (duties[channel] > requests[channel] || duties[channel] > answer >> 16) {
                return 1;
            }
        }
        if (any() < 30u) {
            controller_start(state);
        }
    }
    return 0;
}
