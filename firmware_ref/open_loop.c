/* Policy "none"; open_loop.h is the manual. */
#include "open_loop.h"

uint16_t derate_policy_limit(const struct derate_policy *policy, uint32_t *memory,
                             int16_t reading_centi_c)
{
    (void)policy;
    (void)memory;
    (void)reading_centi_c;
    return (uint16_t)DERATE_ONE_Q15;
}

uint8_t derate_policy_check(const struct derate_policy *policy)
{
    return policy->unused == 0u;
}
