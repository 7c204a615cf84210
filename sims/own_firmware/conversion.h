/* What the three examples share: where a code lies in the table that derate generated.
 * Invented, like all of this folder; each example holds one typical mistake on purpose. */
#ifndef CONVERSION_H
#define CONVERSION_H

#include "derate_settings.h"

#define SAFE_Q15 6554u
#define TABLE (&derate_lamp_settings.table[0])

static inline int is_fault(uint16_t code)
{
    return code <= TABLE->low_code || code >= TABLE->high_code;
}

/* The knot at or before a healthy code, such that there is one behind it. */
static inline uint8_t knot_before(uint16_t code)
{
    uint8_t i = 0u;
    while (i + 2u < TABLE->knots && TABLE->code[i + 1u] <= code) {
        i++;
    }
    return i;
}

/* The reading of a code in 0.01 degC, on a straight line between two knots. */
static inline int16_t reading_of(uint16_t code)
{
    uint8_t i = knot_before(code);
    int32_t past = (int32_t)code - TABLE->code[i];
    int32_t span = (int32_t)TABLE->code[i + 1u] - TABLE->code[i];
    int32_t change = (int32_t)TABLE->reading_centi_c[i + 1u] - TABLE->reading_centi_c[i];
    return (int16_t)(TABLE->reading_centi_c[i] + past * change / span);
}

/* All light up to 50 degC, none from 75 degC on, a straight line between. */
static inline uint16_t allowed_q15(int16_t reading_centi_c)
{
    if (reading_centi_c <= 5000) {
        return 32768u;
    }
    if (reading_centi_c >= 7500) {
        return 0u;
    }
    return (uint16_t)(INT32_C(32768) * (7500 - reading_centi_c) / 2500);
}

static inline uint32_t drive(uint16_t limit_q15, const uint16_t *requests_q15,
                             uint16_t *duties_q15)
{
    for (uint8_t i = 0u; i < derate_lamp_settings.channels; i++) {
        uint32_t request = requests_q15[i] < 32768u ? requests_q15[i] : 32768u;
        duties_q15[i] = (uint16_t)(request * limit_q15 >> 15);
    }
    return (uint32_t)limit_q15 << 16;
}

#endif
