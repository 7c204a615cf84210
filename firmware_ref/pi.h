/* PI: limit = 1 - gain * excess - integral, between floor and 1, where the excess is the reading
 * less the setpoint and the integral collects integral gain * excess every step. Anti-windup:
 * the integral never goes below 0 (nothing is stored up while cold), and it rises only as far as
 * the limit just reaches floor. */
#ifndef PI_H
#define PI_H

#include <stdint.h>

/* A gain per 0.01 K: mantissa * 2^shift / 2^31. A product beyond 1.0 counts as 1.0, so no
 * setting and no reading overflows. */
struct derate_gain {
    uint16_t mantissa; /* 0 = no such action */
    uint8_t shift;     /* 0..31 */
};

struct derate_policy {
    int16_t setpoint_centi_c;
    uint16_t floor_q15; /* 0..32768: lowest limit */
    struct derate_gain gain;          /* per 0.01 K */
    struct derate_gain integral_gain; /* per 0.01 K and step */
};

/*@ predicate policy_readable(struct derate_policy *policy) = \valid_read(policy);
    predicate policy_works(struct derate_policy *policy) = policy_readable(policy) &&
      policy->floor_q15 <= 32768 && policy->gain.shift < 32 && policy->integral_gain.shift < 32;
    logic integer policy_words(struct derate_policy *policy) = 1;
    logic integer policy_channels(struct derate_policy *policy) = 0;
    logic integer policy_most(struct derate_policy *policy) = (32768 - policy->floor_q15) * 65536; */

#include "derate.h"

#endif
