/* Policy "pi"; pi.h is the manual. Memory: the integral, Q31, 0..1 - floor. */
#include "pi.h"

/* The product times the factor, at most 1.0; more than most would be beyond. */
/*@ requires factor * most == DERATE_ONE_Q31;
    assigns \nothing;
    ensures \result <= DERATE_ONE_Q31; */
static uint32_t scaled(uint32_t product, uint32_t most, uint32_t factor)
{
    if (product > most) {
        return DERATE_ONE_Q31;
    }
    //@ assert factor * product <= factor * most;
    return factor * product;
}

/*@ lemma there_and_back: \forall integer s; 0 <= s < 32 ==>
      (1 << s) * (0x80000000 >> s) == 0x80000000 && 0 < (1 << s) <= 0x80000000; */

/* gain * excess as Q31, at most 1.0. The product of two 16-bit numbers fits 32 bits. */
/*@ requires gain.shift < 32 && excess_centi_k <= 65535;
    assigns \nothing;
    ensures \result <= DERATE_ONE_Q31; */
static uint32_t times(struct derate_gain gain, uint32_t excess_centi_k)
{
    //@ assert gain.mantissa * excess_centi_k <= gain.mantissa * 65535;
    uint32_t product = (uint32_t)gain.mantissa * excess_centi_k;
    uint32_t most = DERATE_ONE_Q31 >> gain.shift;
    uint32_t factor = UINT32_C(1) << gain.shift;
    //@ assert 0 <= (1 << gain.shift) <= 0x80000000;
    //@ assert factor == (1 << gain.shift);
    //@ assert most == (0x80000000 >> gain.shift);
    //@ assert (1 << gain.shift) * (0x80000000 >> gain.shift) == 0x80000000;
    //@ assert factor * most == 0x80000000;
    return scaled(product, most, factor);
}

void derate_policy_start(const struct derate_policy *policy, uint32_t *memory)
{
    (void)policy;
    memory[0] = 0u;
}

/*@ ensures \result >= policy->floor_q15; */
uint16_t derate_policy_limit(const struct derate_policy *policy, uint32_t *memory,
                             int16_t reading_centi_c, const uint16_t *requests_q15)
{
    (void)requests_q15;
    uint32_t range = (DERATE_ONE_Q15 - policy->floor_q15) * 65536u;
    uint32_t integral = *memory;
    uint32_t cut;
    int32_t excess = (int32_t)reading_centi_c - policy->setpoint_centi_c;
    //@ assert -65535 <= excess <= 65535;
    if (excess > 0) {
        uint32_t proportional = times(policy->gain, (uint32_t)excess);
        uint32_t more = times(policy->integral_gain, (uint32_t)excess);
        uint32_t room = range - integral;
        if (proportional < room) {
            room -= proportional;
            integral += more < room ? more : room;
            cut = integral + proportional;
        } else {
            cut = range;
        }
    } else {
        uint32_t proportional = times(policy->gain, (uint32_t)-excess);
        uint32_t less = times(policy->integral_gain, (uint32_t)-excess);
        integral = integral > less ? integral - less : 0u;
        cut = integral > proportional ? integral - proportional : 0u;
    }
    *memory = integral;
    return (uint16_t)(DERATE_ONE_Q15 - (cut + 65535u) / 65536u); /* rounded down; cut <= 2^31 */
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
    return policy->floor_q15 <= DERATE_ONE_Q15 && policy->gain.shift < 32u &&
           policy->integral_gain.shift < 32u;
}
