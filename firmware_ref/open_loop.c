/* Policy "none"; open_loop.h is the manual. */
#include "open_loop.h"

void derate_policy_start(const struct derate_policy *policy, uint32_t *memory)
{
    (void)policy;
    memory[0] = 0u;
}

uint16_t derate_policy_limit(const struct derate_policy *policy, uint32_t *memory,
                             int16_t reading_centi_c, const uint16_t *requests_q15)
{
    (void)policy;
    (void)memory;
    (void)reading_centi_c;
    (void)requests_q15;
    return (uint16_t)DERATE_ONE_Q15;
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
    return policy->unused == 0u;
}
