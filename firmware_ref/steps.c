/* Policy "steps"; steps.h is the manual. Memory: how many levels are engaged. */
#include "steps.h"

void derate_policy_start(const struct derate_policy *policy, uint32_t *memory)
{
    (void)policy;
    memory[0] = 0u;
}

uint16_t derate_policy_limit(const struct derate_policy *policy, uint32_t *memory,
                             int16_t reading_centi_c, const uint16_t *requests_q15)
{
    (void)requests_q15;
    uint8_t engaged = (uint8_t)*memory;
    /*@ loop invariant engaged <= policy->levels;
        loop assigns engaged;
        loop variant policy->levels - engaged; */
    while (engaged < policy->levels && reading_centi_c >= policy->level[engaged].at_centi_c) {
        engaged++;
    }
    /*@ loop invariant engaged <= policy->levels;
        loop assigns engaged;
        loop variant engaged; */
    while (engaged > 0u) {
        int32_t below = (int32_t)policy->level[engaged - 1u].at_centi_c - reading_centi_c;
        if (below <= 0 || below < policy->hysteresis_centi_k) {
            break;
        }
        engaged--;
    }
    *memory = engaged;
    return engaged > 0u ? policy->level[engaged - 1u].limit_q15 : (uint16_t)DERATE_ONE_Q15;
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
    if (policy->levels == 0u) {
        return 0u;
    }
    /*@ loop invariant 0 <= i <= policy->levels;
        loop invariant \forall integer k; 0 <= k < i ==> policy->level[k].limit_q15 <= 32768;
        loop assigns i;
        loop variant policy->levels - i; */
    for (uint8_t i = 0u; i < policy->levels; i++) {
        if (policy->level[i].limit_q15 > DERATE_ONE_Q15) {
            return 0u;
        }
        if (i > 0u && (policy->level[i].at_centi_c <= policy->level[i - 1u].at_centi_c ||
                       policy->level[i].limit_q15 > policy->level[i - 1u].limit_q15)) {
            return 0u;
        }
    }
    return 1u;
}
