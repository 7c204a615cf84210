/* Invented, with a mistake: the interpolation multiplies in int, which has 16 bits on an AVR and
 * 32 elsewhere. A product above 32767 is another temperature there. */
#include "controller.h"
#include "conversion.h"

uint16_t controller_size(void)
{
    return 1u; /* nothing is kept */
}

void controller_start(void *state)
{
    (void)state;
}

static int16_t reading_in_int(uint16_t code)
{
    uint8_t i = knot_before(code);
    int past = (int)code - (int)TABLE->code[i];
    int span = (int)TABLE->code[i + 1u] - (int)TABLE->code[i];
    int change = TABLE->reading_centi_c[i + 1u] - TABLE->reading_centi_c[i];
    return (int16_t)(TABLE->reading_centi_c[i] + past * change / span);
}

uint32_t controller_step(void *state, const uint16_t *codes, const uint16_t *requests_q15,
                         uint16_t *duties_q15)
{
    (void)state;
    uint16_t limit = is_fault(codes[0]) ? SAFE_Q15 : allowed_q15(reading_in_int(codes[0]));
    return drive(limit, requests_q15, duties_q15);
}
