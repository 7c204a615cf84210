/* Policy "foldback"; foldback.h is the manual. Memory: the reading used, plus 32768. */
#include "foldback.h"

/* What is left of the range so far along the span. */
/*@ requires range <= 32768 && left < span <= 65535;
    assigns \nothing;
    ensures \result <= range; */
static uint16_t share_left(uint32_t range, uint32_t left, uint32_t span)
{
    //@ assert range * left <= range * span;
    return derate_ratio(range * left, span); /* < 2^31: left < 65536 */
}

void derate_policy_start(const struct derate_policy *policy, uint32_t *memory)
{
    (void)policy;
    memory[0] = 0u;
}

/*@ ensures reading_centi_c >= policy->end_centi_c ==> \result == policy->floor_q15;
    ensures \result >= policy->floor_q15; */
uint16_t derate_policy_limit(const struct derate_policy *policy, uint32_t *memory,
                             int16_t reading_centi_c, const uint16_t *requests_q15)
{
    (void)requests_q15;
    int32_t used = (int32_t)*memory - 32768;
    int32_t highest = (int32_t)reading_centi_c + (int32_t)policy->hysteresis_centi_k;
    if (used > highest) {
        used = highest;
    }
    if (used < reading_centi_c) {
        used = reading_centi_c;
    }
    *memory = (uint32_t)(used + 32768);
    if (used <= policy->start_centi_c) {
        return (uint16_t)DERATE_ONE_Q15;
    }
    if (used >= policy->end_centi_c) {
        return policy->floor_q15;
    }
    uint32_t span = (uint32_t)((int32_t)policy->end_centi_c - policy->start_centi_c);
    uint32_t left = (uint32_t)(policy->end_centi_c - used);
    uint32_t range = DERATE_ONE_Q15 - policy->floor_q15;
    return (uint16_t)(policy->floor_q15 + share_left(range, left, span));
}

void derate_policy_driven(const struct derate_policy *policy, uint32_t *memory,
                          const uint16_t *duties_q15)
{
    (void)policy;
    (void)memory;
    (void)duties_q15;
}

uint8_t derate_policy_check(const struct derate_policy *policy, uint8_t channels)
{
    (void)channels;
    return policy->end_centi_c > policy->start_centi_c && policy->floor_q15 <= DERATE_ONE_Q15;
}
